import { afterWaterChange, salinityAfterExchange } from '../../science/dilution.ts';
import { combine } from '../../science/statistics/uncertainty.ts';

/** Something that was done to the level: an addition that raises it, or an exchange of a part of the water. */
export type LevelChange = { day: number; rise: number } | { day: number; fraction: number; makeUp: number };

/** What the level of a correction does: canonical units, `day` the moment in days since 1970. */
export interface ExpectedCourse {
  from: { day: number; value: number; u: number };
  /** What the water does by itself in a day with its usual dosing; nothing where it is not known. */
  driftPerDay: number;
  driftSd: number;
  /** Relative standard uncertainty of what an addition does. */
  relativeU: number;
  /** The level is salinity, which mixes by the mass of the waters, not by their volume. */
  saline: boolean;
  done: readonly LevelChange[];
}

/**
 * The level expected at a moment, with its standard uncertainty: what was read at first, what was done since (an
 * addition at the very moment counts), and what the water does by itself. Conservation of mass; GUM 5.1.2.
 */
export function levelAt(course: ExpectedCourse, day: number): { value: number; u: number } {
  const { from, driftPerDay, driftSd, relativeU } = course;
  const done = course.done
    .filter((one) => one.day >= from.day && one.day <= day)
    .sort((a, b) => a.day - b.day);
  let [value, here, moved] = [from.value, from.day, 0];
  for (const one of done) {
    const before = value + driftPerDay * (one.day - here);
    value = 'rise' in one ? before + one.rise : exchanged(Math.max(0, before), one, course.saline);
    moved += Math.abs(value - before);
    here = one.day;
  }
  value += driftPerDay * Math.max(0, day - here);
  const u = combine(from.u, relativeU * moved, driftSd * Math.max(0, day - from.day));
  return { value, u };
}

function exchanged(
  before: number,
  { fraction, makeUp }: Extract<LevelChange, { fraction: number }>,
  saline: boolean,
) {
  return saline
    ? salinityAfterExchange(1, before, fraction, makeUp)
    : afterWaterChange(before, makeUp, fraction);
}
