import { slopeOptions, trackSlope } from '../../science/filter/slope.ts';
import { usualSwing } from '../quantities/usual-swing.ts';

/** A reading of a line: canonical, `day` in days since 1970. */
interface LineReading {
  day: number;
  value: number;
  u: number;
  below: boolean;
  above: boolean;
  confirmed: boolean;
}

/**
 * The readings since the line broke last: where a confirmed test, or two running, lie far off what the ones before led to. What
 * the level did before a crash says nothing of what it does now. All of them where it did not break.
 *
 * @param moved by how much what was put in has moved the level up to a day, so that a correction is no break
 */
export function sinceLineBroke<R extends LineReading>(
  readings: readonly R[],
  quantity: { code: string; plausibleLow: number; plausibleHigh: number },
  moved: (day: number) => number,
): { readings: readonly R[]; broke: boolean } {
  const last = readings.at(-1);
  if (last === undefined) return { readings, broke: false };
  const tests = readings.map(({ day, value, u, below, above, confirmed }) => ({
    day,
    value: value - moved(day),
    sd: Math.max(1e-9, u),
    confirmed,
    ...(below ? { bound: 'below' as const } : {}),
    ...(above ? { bound: 'above' as const } : {}),
  }));
  const { brokeAfter } = trackSlope(
    tests,
    last.day,
    slopeOptions(usualSwing(quantity.code, last.value, quantity)),
  );
  if (brokeAfter === null) return { readings, broke: false };
  return { readings: readings.filter(({ day }) => day > brokeAfter), broke: true };
}
