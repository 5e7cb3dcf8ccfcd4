import { memoizeWith } from '../../../platform/memoize.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { estimateNitrate } from '../../../water/estimates/nitrate.rules.ts';
import { withoutDoubted } from '../../../water/record/doubted.rules.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { noShift } from '../levels/correction-offset.ts';
import { withoutKitBias } from '../levels/kit-bias.ts';
import { levelSinceLastEvent, sinceLastEvent } from '../levels/last-event.ts';
import { isBeyondScale, type Level, levelNow } from '../levels/level-against-band.ts';
import { trackLevel } from '../levels/level-filter.ts';
import { lowerMiddle, usualGap } from '../levels/spacing.ts';

/** Where nitrate stands against the edge above which it counts as raised. */
export interface NitrateAgainstEdge {
  level: Level;
  edge: number;
  source: string;
  /** Beyond the edge, over its own uncertainty; negative below. */
  z: number;
  stale: boolean;
  /** The last test went beyond its scale: the level is at least this, and nobody knows how much more. */
  atLeast: boolean;
}

/** "Practice of growers, no source: trouble from about 30 to 40 mg/L", as NO3. */
export const troubleFrom = 30;
/** Beyond the edge with a probability of 93 %. */
export const clearly = 1.5;

/** Readings older than this no longer move the filter; without them it is quicker. Own choice. */
const historyDays = 200;
/** Short swing as a part of the level: it makes the level wander by about 1 % a day, as in the simulation study. */
const swing = 0.025;
/** The swing is never taken for less than that of 1 mg/L, so that a level near zero does not look steadier than tests can tell. Own choice. */
const smallLevel = 1;

/** Null without readings. `readings` oldest first; `trouble` in mg/L as NO3 where the system sets no edge. */
export function nitrateAgainstEdge(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  now: Date,
  trouble: number,
): NitrateAgainstEdge | null {
  const last = readings.at(-1);
  if (last === undefined) return null;
  const level = beyondScale(readings) ?? readOnce(last) ?? estimated(facts, readings, now);
  if (level === null) return null;
  const { bandHigh = null, limitHigh = null, source = '' } = facts.kept.get('nitrate') ?? {};
  const edge = Math.min(bandHigh ?? Infinity, limitHigh ?? trouble);
  const own = bandHigh !== null || limitHigh !== null;
  return {
    level,
    edge,
    source: own ? source : 'Practice of growers, no source: trouble from about 30 to 40 mg/L as NO₃.',
    z: isBeyondScale(readings, edge)
      ? Math.max(clearly, (level.value - edge) / level.sd)
      : (level.value - edge) / level.sd,
    stale: dayOf(now) - last.day > Math.max(30, 3 * usualGap(readings)),
    atLeast: last.above === true,
  };
}

/** Where only a test that nobody repeated yet says so: what it read. */
const readOnce = ({ trust, value, u, below }: ReadingFact): Level | null =>
  trust === 'unconfirmed' && !below ? { value, sd: Math.max(u, 1e-9), from: 'unconfirmed' } : null;

/**
 * The level that pages draw and plans start from, as sure as the tests are: what is not known of the kit's bias is left to
 * the rule on kits.
 */
function estimated(facts: SystemFacts, readings: readonly ReadingFact[], now: Date): Level | null {
  const relied = withoutDoubted('nitrate', readings, facts.doubted);
  const estimate = estimateNitrate(facts, sinceLastEvent(facts, relied), now);
  const recent = relied.filter(({ day }) => day > dayOf(now) - historyDays);
  const size = Math.max(smallLevel, lowerMiddle(recent.slice(-10).map(({ value }) => value)));
  const followed = levelSinceLastEvent(facts, recent);
  const track = trackLevel(followed, swing * size, noShift);
  if (track === null) return null;
  // Before the first test after an event the last one before it is all that is known.
  const level = levelNow(followed, track);
  return { ...level, value: estimate?.state.level ?? level.value };
}

/** A bound of the last days still holds beside a lower one; own choice. */
const boundDays = 7;

/** The highest bound of the last tests, where the last went beyond its scale; else null. A filter of bounds is no level. */
function beyondScale(recent: readonly ReadingFact[]): Level | null {
  const last = recent.at(-1);
  if (last?.above !== true) return null;
  const bounds = recent.filter(({ above, day }) => above === true && last.day - day <= boundDays);
  return {
    value: Math.max(...bounds.map(({ value }) => value)),
    sd: Math.max(last.u, 1e-9),
    from: 'confirmed',
  };
}

/** Where nitrate stands clearly above its edge, by readings that are relied on and no biased kit's; else null. */
export const nitrateRaised: (facts: SystemFacts, now: Date) => NitrateAgainstEdge | null = memoizeWith(
  (facts: SystemFacts, _now: Date) => facts,
  (facts: SystemFacts, now: Date) => {
    const { readings } = withoutKitBias(facts, 'nitrate', facts.readings.get('nitrate') ?? []);
    const relied = readings.filter(({ trust }) => trust !== 'unconfirmed');
    const nitrate = nitrateAgainstEdge(facts, relied, now, troubleFrom);
    return nitrate !== null && nitrate.z >= clearly && !nitrate.stale ? nitrate : null;
  },
);
