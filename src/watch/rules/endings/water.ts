import { dayOf } from '../../../science/numeric/time.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { SystemFacts } from '../../facts/types.ts';
import type { EndedAlert } from '../../rule-definition/rule.ts';
import { dateOfDay, nameOf, quantityNamed } from '../shared/words.ts';

type Ending = (facts: SystemFacts, alert: EndedAlert, now: Date) => string;

/** Longer ago than this a test says nothing of today (own choice: twice the interval of slow tests). */
const staleDays = 28;

/** The end of an alert on water: by the newest test since, or because what it rested on no longer counts. */
export const waterEnded =
  (...codes: readonly string[]): Ending =>
  (facts, alert, now) => {
    const known = codes.filter((code) => facts.quantities.has(code));
    const own = alert.finding.evidence.filter(({ kind }) => kind === 'reading');
    const standing = new Set([...facts.readings.values()].flatMap((all) => all.map(({ id }) => id)));
    const lastOwn = Math.max(0, ...own.map(({ at }) => Date.parse(at)));
    const newest = known
      .flatMap((code) => (facts.readings.get(code) ?? []).slice(-1).map((reading) => ({ code, reading })))
      .toSorted((a, b) => b.reading.day - a.reading.day);
    const [last] = newest;
    if (own.length > 0 && own.every(({ id }) => !standing.has(id)))
      return 'the readings it came from no longer count: they were voided, corrected or refuted';
    if (last === undefined)
      return `${namesOf(facts, known)} is not tested any more, so nothing can be said of it`;
    const { code, reading } = last;
    const test = `the test of ${dateOfDay(reading.day, facts)} gave ${nameOf(facts, code)} ${say(quantityNamed(facts, code), reading.value, reading.below)}`;
    if (Date.parse(reading.at) > Math.max(lastOwn, alert.openedAt.getTime()))
      return `${test}${bandWords(facts, code)}`;
    if (dayOf(now) - reading.day > staleDays)
      return `${namesOf(facts, known)} was not tested since ${dateOfDay(reading.day, facts)}, so nothing can be said of it any more`;
    const changed = bandChanged(facts, code, alert);
    if (changed !== '') return `${changed}; ${test}`;
    return `without a new test: ${test}, and with what was logged since it is no longer found`;
  };

/** The same where the quantity is the alert's facet. */
export const facetEnded: Ending = (facts, alert, now) => waterEnded(alert.facet)(facts, alert, now);

const namesOf = (facts: SystemFacts, codes: readonly string[]) =>
  codes.map((code) => nameOf(facts, code)).join(' or ') || 'this';

function bandWords(facts: SystemFacts, code: string): string {
  const kept = facts.kept.get(code);
  if (kept === undefined) return '';
  const quantity = quantityNamed(facts, code);
  const [low, high] = [kept.bandLow, kept.bandHigh];
  if (low !== null && high !== null) return `; its band is ${say(quantity, low)} to ${say(quantity, high)}`;
  if (low !== null) return `; its band begins at ${say(quantity, low)}`;
  return high === null ? '' : `; its band ends at ${say(quantity, high)}`;
}

/** Whether the edge it stood outside of is no edge of the band any more. */
function bandChanged(facts: SystemFacts, code: string, { finding }: EndedAlert): string {
  const kept = facts.kept.get(code);
  const edges = [kept?.bandLow, kept?.bandHigh, kept?.limitHigh].filter((edge) => edge != null);
  const same = edges.some((edge) => Math.abs(edge - finding.limit.value) < 1e-9);
  return finding.rule === 'out-of-band' && !same ? `the band was changed${bandWords(facts, code)}` : '';
}

/** A day's mean temperature is what heat is judged by. */
export const heatEnded: Ending = (facts, alert, now) => {
  const last = facts.temperatures.at(-1);
  if (last === undefined) return waterEnded('temperature')(facts, alert, now);
  const quantity = quantityNamed(facts, 'temperature');
  return `the mean of ${dateOfDay(last.day + 0.5, facts)} was ${say(quantity, last.mean)}, and the heat of the weeks before no longer adds up to the limit`;
};

/** An overdose: a test since, the dose voided, or its days over. */
export const overdoseEnded: Ending = (facts, alert, now) => {
  const doses = alert.finding.evidence.filter(({ kind }) => kind === 'dose');
  const standing = new Set(facts.doses.map(({ id }) => id));
  if (doses.length > 0 && doses.every(({ id }) => !standing.has(id))) return 'the dose was voided';
  const code = alert.facet;
  const last = facts.readings.get(code)?.at(-1);
  if (last === undefined || Date.parse(last.at) <= alert.openedAt.getTime())
    return 'its days are over; no test was made after the dose';
  return waterEnded(code)(facts, alert, now);
};
