import { whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say, sayReading } from '../../../water/quantities/quantities.ts';
import { type KitFact, momentOfDay, type SystemFacts } from '../../facts/types.ts';
import type { EndedAlert } from '../../rule-definition/rule.ts';
import { testedAfterwards } from '../shared/tests-afterwards.ts';
import { dateOfDay, quantityNamed } from '../shared/words.ts';

type Ending = (facts: SystemFacts, alert: EndedAlert, now: Date) => string;

const kitOf = (facts: SystemFacts, { subject }: EndedAlert): KitFact | undefined =>
  [...facts.kits, ...facts.visitingKits].find(({ id }) => id === subject.id);

/** A kit: checked since, said anew when it expires or how many tests it holds, or no longer used. */
export const kitEnded: Ending = (facts, alert) => {
  const kit = kitOf(facts, alert);
  if (kit === undefined) return 'no test was made with it lately, so it is not in use';
  const quantity = quantityNamed(facts, kit.quantityCode);
  const check = kit.checks.at(-1);
  if (check !== undefined && Date.parse(check.at) > alert.openedAt.getTime())
    return `its check of ${dateOfDay(check.day, facts)} gave ${say(quantity, check.value)} of a standard of ${say(quantity, check.standard)}`;
  const pair = kit.pairs?.at(-1);
  if (pair !== undefined && pair.day > dayOf(alert.openedAt))
    return `beside another kit on ${dateOfDay(pair.day, facts)} it gave ${say(quantity, pair.value)}, the other ${say(quantity, pair.old)}`;
  const own = kit.systems.flatMap(({ readings }) => readings.filter(({ kitId }) => kitId === kit.id));
  const last = own.reduce((latest, { day }) => Math.max(latest, day), Number.NEGATIVE_INFINITY);
  if (last > dayOf(alert.openedAt))
    return `by the tests with it up to ${dateOfDay(last, facts)} nothing speaks against it any more`;
  return Number.isFinite(last)
    ? `no test was made with it since ${dateOfDay(last, facts)}, so it is not in use`
    : 'no test that counts was made with it';
};

/** A quantity without a kit: another is in use, or the one put away counts no longer. */
export const kitMissingEnded: Ending = (facts, { facet }) => {
  const kits = [...facts.kits, ...facts.visitingKits].filter(({ quantityCode }) => quantityCode === facet);
  const names = kits.map(({ label }) => label).join(', ');
  const opened = facts.kitsPutAway
    .filter(({ quantityCode }) => quantityCode === facet)
    .flatMap(({ others }) => others.map(({ label }) => label))[0];
  if (names !== '') return `tested with ${names}`;
  return opened === undefined
    ? 'it is not tested here any more: the last kit was put away two months ago'
    : `${opened} was opened`;
};

/** A probe: by its newest value. */
export const probeEnded: Ending = (facts, { subject, facet }, now) => {
  const sent = facts.probes.find(({ kitId }) => kitId === subject.id);
  const { trace } =
    facts.probeVotes.find(
      ({ trace: { kitId, code, methodId } }) => kitId === subject.id || facet === `${code} ${methodId}`,
    ) ?? {};
  const [last, code] = [sent?.samples.at(-1) ?? trace?.samples.at(-1), sent?.quantityCode ?? trace?.code];
  if (last === undefined || code === undefined) return 'it reports no longer, so its values are not used';
  const at = whenWords(momentOfDay(last.day), facts.timeZone, now);
  return `its values up to ${at} show none of it; the last was ${say(quantityNamed(facts, code), last.value)}`;
};

/** Two sources of one water: the tests since, or none since that could still tell. */
export const sourcesEnded: Ending = (facts, { facet, openedAt }, now) => {
  const last = facts.readings.get(facet)?.findLast(({ probe, day }) => !probe && day > dayOf(openedAt));
  if (last === undefined) return 'the two were not read side by side since, and the water has moved on';
  const at = whenWords(momentOfDay(last.day), facts.timeZone, now);
  return `${sayReading(quantityNamed(facts, facet), last)} by hand of ${at} has decided`;
};

/** Planned work: logged since, or planned otherwise. */
export const overdueEnded: Ending = (facts, { facet, openedAt }) => {
  if (facet === 'several') {
    const logged = facts.routines.filter(({ lastDay }) => lastDay !== null && lastDay > dayOf(openedAt) - 1);
    return logged.length === 0
      ? 'at most one of them is overdue as they are planned now'
      : `logged since: ${logged.map(({ words, lastDay }) => `${words} ${dateOfDay(lastDay ?? 0, facts)}`).join(', ')}`;
  }
  const routine = facts.routines.find(({ id }) => id === facet);
  if (routine === undefined) return 'it is no longer planned';
  const { lastDay, words } = routine;
  return lastDay === null
    ? 'it is planned otherwise now'
    : `the last ${words} logged is of ${dateOfDay(lastDay, facts)}`;
};

/** Something off: seen running, or its note voided. Aftercare: the tests. */
export const offEnded: Ending = (facts, { facet, finding, openedAt }, now) => {
  if (facet === 'tests afterwards')
    return testedAfterwards(facts, finding, openedAt, (at) => whenWords(at, facts.timeZone, now));
  const ids = finding.evidence.map(({ id }) => id);
  const offs = facts.switchedOff.filter(({ id }) => ids.includes(id));
  const on = Math.max(...offs.map(({ onDay }) => onDay ?? Number.NEGATIVE_INFINITY));
  if (offs.length === 0) return 'the note that it is off was voided';
  return Number.isFinite(on)
    ? `seen running again ${whenWords(momentOfDay(on), facts.timeZone, now)}`
    : 'it may stay off for longer, as somebody said';
};

/** A fault: mended, or checked where a check was left out, as somebody said. */
export const faultEnded: Ending = (facts, { finding }, now) => {
  const ids = finding.evidence.map(({ id }) => id);
  const own = facts.faults.filter(({ id }) => ids.includes(id));
  const mended = own.filter(({ mendedDay }) => mendedDay !== null);
  const how = own.some(({ leftOut }) => leftOut) ? 'checked' : 'mended';
  const last = Math.max(...mended.map(({ mendedDay }) => mendedDay ?? 0));
  return mended.length === 0
    ? own.length === 0
      ? 'its equipment is no longer on the list'
      : 'it is told as a check that nobody answered'
    : `${how} ${whenWords(momentOfDay(last), facts.timeZone, now)}, as somebody said`;
};

/** A look: somebody took it, or it has another time now. */
export const lookEnded: Ending = (facts, { facet }, now) => {
  const look = facts.looks.find(({ id }) => id === facet);
  if (look === undefined || look.doneDay !== null) return 'somebody looked, or it is no longer needed';
  return `it is due ${whenWords(momentOfDay(look.dueDay), facts.timeZone, now)} now`;
};
