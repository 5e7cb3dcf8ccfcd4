import { type Advice, hold, noted, notUp, source } from '../../../alerts/advice.ts';
import type { FindingKey } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { memoize } from '../../../platform/memoize.ts';
import { dayCount, plural } from '../../../platform/words/numbers.ts';
import { DAILY_CAPS } from '../../../science/dosing.ts';
import { sayDifference } from '../../../water/quantities/quantities.ts';
import type { LotFact, ReadingFact, SystemFacts } from '../../facts/types.ts';
import { onsetOf } from './conditions.ts';
import { lotsWords } from './place-words.ts';
import { dateOfDay, nameOf, quantityNamed } from './words.ts';

/**
 * The most that each may move in a day before corals show it: alkalinity and salinity by the caps of a correction; temperature
 * by 2 degC and pH by 0.3 (common practice, no source). Canonical units.
 */
const mostADay: Readonly<Record<string, number>> = {
  alkalinity: DAILY_CAPS.alkalinity.usual,
  salinity: DAILY_CAPS.salinity.usual,
  temperature: 2,
  ph: 0.3,
};
/** Two tests further apart than this tell no sudden change; what it does shows within a week. Days, own choice. */
const [apart, shows] = [2, 7];
/** Standard uncertainties of both tests together that do not count as a change. */
const beyondError = 2;
/** Unrelated lots of which fewer say nothing of their water (practice of growers: two). */
const several = 2;

/** How a coral first shows that its water changed. */
const signs: readonly ConditionState[] = ['paling', 'bleached', 'polyps_shut'];

/** A sudden change of the shared water, by the two tests that show it. */
export interface WaterJump {
  code: string;
  from: ReadingFact;
  to: ReadingFact;
}

/** The sudden changes that the tests of a water show, oldest first. Kept with the facts. */
export const waterJumps = memoize((facts: SystemFacts): readonly WaterJump[] =>
  Object.entries(mostADay)
    .flatMap(([code, most]) => jumpsOf(code, facts.readings.get(code) ?? [], most))
    .sort((a, b) => a.to.day - b.to.day),
);

function jumpsOf(code: string, readings: readonly ReadingFact[], most: number): WaterJump[] {
  const exact = readings.filter(({ below, above }) => !below && above !== true);
  const byHand = Map.groupBy(
    exact,
    ({ hand, methodId = '', probe = false }) => `${hand} ${methodId} ${probe}`,
  );
  return [...byHand.values()].flatMap((own) =>
    own.slice(1).flatMap((to, i): WaterJump[] => {
      const from = own[i];
      if (from === undefined || to.day - from.day > apart) return [];
      const error = beyondError * Math.hypot(from.u, to.u);
      const moved = (Math.abs(to.value - from.value) - error) / Math.max(1, to.day - from.day);
      return moved > most ? [{ code, from, to }] : [];
    }),
  );
}

/** "alkalinity up by 3.8 dKH within an hour". */
export function jumpWords(facts: SystemFacts, { code, from, to }: WaterJump): string {
  const way = to.value > from.value ? 'up' : 'down';
  const by = sayDifference(quantityNamed(facts, code), Math.abs(to.value - from.value), from.value);
  const hours = Math.max(1, Math.round((to.day - from.day) * 24));
  const time = hours === 1 ? 'an hour' : hours <= 36 ? plural(hours, 'hour', 'hours') : dayCount(2);
  const doubt = to.trust === 'unconfirmed' ? ', by one test that was not repeated yet' : '';
  return `${nameOf(facts, code)} ${way} by ${by} within ${time}${doubt}`;
}

const showsIt = ({ conditions }: LotFact, { from, to }: WaterJump): boolean => {
  const [latest] = conditions;
  const first = onsetOf(conditions)?.firstBad.day;
  if (latest === undefined || first === undefined || !signs.includes(latest.state)) return false;
  return first > from.day && first <= to.day + shows;
};

/** A sudden change, and the lots of its water that were seen unwell soon after it. */
export interface ShownJump extends WaterJump {
  lots: readonly LotFact[];
}

const shownJumps = memoize((facts: SystemFacts): readonly ShownJump[] =>
  waterJumps(facts)
    .map((jump) => ({ ...jump, lots: facts.lots.filter((lot) => showsIt(lot, jump)) }))
    .filter(({ lots }) => lots.length >= several),
);

/** The last sudden change of its water that a lot and others were seen to pale or shut after; null without one. */
export const jumpBehind = (facts: SystemFacts, lot: Pick<LotFact, 'id'>): ShownJump | null =>
  shownJumps(facts).findLast(({ lots }) => lots.some(({ id }) => id === lot.id)) ?? null;

/** Rules that tell of such a change, the most telling first. */
const rulesOn: Readonly<Record<string, readonly string[]>> = {
  alkalinity: ['overdose', 'out-of-band', 'alkalinity-unsteady'],
  salinity: ['out-of-band'],
  temperature: ['warming-fast', 'sinking-fast', 'out-of-band'],
  ph: ['out-of-band'],
};
const wholeWater: readonly string[] = ['alkalinity-unsteady'];

/** The alerts that the change is told by, so that the lots which show it are part of them. */
export const jumpKeys = ({ systemId }: SystemFacts, jump: ShownJump | null): FindingKey[] =>
  jump === null
    ? []
    : (rulesOn[jump.code] ?? []).map((rule) => ({
        rule,
        subject: { type: 'system', id: systemId },
        facet: wholeWater.includes(rule) ? '' : jump.code,
      }));

/** Why lots look so: what changed, when, and how many show it. */
export const jumpWhy = (facts: SystemFacts, jump: ShownJump): string =>
  `Likely cause: a sudden change of the water, ${jumpWords(facts, jump)} on ${dateOfDay(jump.to.day, facts)}. ${lotsWords(jump.lots.length)} of this water were seen pale or shut soon after.`;

/** What is done with a lot that shows it: a coral under one strain is given no second one (common practice). */
export const jumpSteps: readonly Advice[] = [
  noted(
    source('Leave it where it is until the water is steady.', hold('place'), notUp('light')),
    'Another place is one more change. If it pales further, shade it there.',
  ),
];
