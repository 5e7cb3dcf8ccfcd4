import { advised, again, done, isolate, measure, noted, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { dateAtDay, dayOf, daysBetween } from '../../../science/numeric/time.ts';
import { GRADE_WORDS } from '../../../stock/base/condition-states.rules.ts';
import { type Clock, clockOfWatch } from '../../../stock/pests/clock.rules.ts';
import { clearWords, cycleWords, hatchWords } from '../../../stock/pests/clock.words.ts';
import { pestOf } from '../../../stock/pests/pests.rules.ts';
import type { PestFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lotsWords } from '../shared/place-words.ts';
import { figure } from '../shared/words.ts';

const parameters = {
  fresh: {
    label: 'A new sighting is today’s work for',
    unit: 'd',
    default: 3,
    low: 1,
    high: 14,
    source: 'own choice: the lots beside it are looked at and treated within days',
  },
};

/** A water under watch for a pest: one alert for all that share it, until the watch ends. */
export const pestInWater = defineRule({
  name: 'pest-in-water',
  heading: 'Pest in one water',
  watches:
    'A pest seen on one lot concerns every lot in the same water. It stays open until two clean looks past the cycle of the pest, or until somebody ends the watch with a reason.',
  byKind: false,
  parameters,
  quietHours: 0,
  untried: 'It repeats what people saw; there is no limit to try.',
  ended: (facts, { facet }) =>
    facts.pests.find(({ id }) => id === facet)?.endedWhy ||
    'its watch has ended, or every sighting of it was voided',
  evaluate(facts, settings, now) {
    return facts.pests
      .filter(({ endedAt }) => endedAt === null)
      .map((watch) => finding(facts, watch, settings().fresh, now));
  },
});

/** What the days are counted from, in words. */
const sinceWords: Record<Clock['sinceWhat'], string> = {
  sighting: 'last seen',
  arrival: 'it came',
  opening: 'this watch began',
};

const worst = ({ sightings }: PestFact, clock: Clock): number =>
  Math.max(0, ...sightings.filter(({ at }) => at >= clock.since).map(({ grade }) => grade ?? 1));

function severityOf(watch: PestFact, clock: Clock, fresh: number, now: Date): Severity {
  const treated = watch.treatments.some(({ at }) => at >= clock.since);
  if (worst(watch, clock) === 3 && !treated) return 'now';
  if (daysBetween(clock.since, now) < fresh || now >= clock.nextLook) return 'today';
  return 'watch';
}

function finding(facts: SystemFacts, watch: PestFact, fresh: number, now: Date): Finding {
  const pest = pestOf(watch.pest);
  const days = facts.temperatures.map(({ day, mean }) => ({ at: dateAtDay(day), degC: mean }));
  const clock = clockOfWatch(watch, days);
  const lots = new Set(watch.sightings.map(({ lotId }) => lotId));
  const severity = severityOf(watch, clock, fresh, now);
  const when = (at: Date) => whenWords(at.toISOString().slice(0, 10), facts.timeZone, now);
  const place = watch.tankName === '' ? facts.name : `${facts.name}, ${watch.tankName}`;
  const grade = GRADE_WORDS[worst(watch, clock) as 1 | 2 | 3];
  return {
    ...plainFinding,
    rule: 'pest-in-water',
    subject: { type: 'system', id: facts.systemId },
    facet: watch.id,
    systemId: facts.systemId,
    href: `/stock/pests/${watch.id}`,
    status: 'fires',
    severity,
    score: { watch: 1, today: 2, now: 4 }[severity] * (1 + 0.1 * lots.size),
    title: `${place}: ${pest.name}`,
    numbers:
      lots.size === 0
        ? watch.openedWhy
        : `seen on ${lotsWords(lots.size)}${grade === undefined ? '' : `, ${grade}`}, last ${when(clock.since)}`,
    number: figure(
      `Days since ${sinceWords[clock.sinceWhat]}`,
      Math.floor(dayOf(now) - dayOf(clock.since)),
      0,
      'd',
    ),
    limit: {
      ...figure('Told for as long', fresh, 0, 'd'),
      source: parameters.fresh.source,
    },
    figures: [
      { label: 'Eggs hatch', text: hatchWords(clock) },
      { label: 'Whole cycle', text: cycleWords(clock) },
      { label: 'Next look', text: when(clock.nextLook) },
      { label: 'Clear', text: clearWords(clock, facts.timeZone, now) },
    ],
    why: `${pest.spreads} What shares the water may carry it. ${pest.source}.`,
    ...advised(
      isolate('Keep lots, tools and water of this system apart from other water.', done('apart')),
      source('Open the watch for this pest. Follow the label, and treat all lots of its host together.'),
      noted(
        measure('Look at every lot of this water with a lens. Note how many you find, none included.'),
        `Next look: ${when(clock.nextLook)}.`,
      ),
      again('Look again when its eggs have hatched.'),
    ),
    evidence: watch.sightings
      .slice(-6)
      .toReversed()
      .map((seen) => ({
        kind: 'condition' as const,
        id: seen.conditionId,
        at: seen.at.toISOString(),
        text: `${seen.code}: ${seen.counted === null ? 'not counted' : `${seen.counted} counted`}`,
        note: seen.note,
      })),
  };
}
