import { combine } from './uncertainty.ts';

/** A reading surprises beyond this many standard deviations of water and test together: the usual limit of a control chart. */
export const surpriseSds = 3;

/** A test's result, in any one unit; a bound is the most (below) or the least (above) that it can be. */
export interface TestResult {
  value: number;
  uncertainty: number;
  below: boolean;
  above?: boolean;
}

/** Between what levels a reading is expected, and the standard deviation of the water about them; the unit of the results. */
export interface ExpectedWindow {
  low: number;
  high: number;
  sd: number;
}

/** How far a result lies off the window: signed distance, 0 within, and the same in standard deviations of water and test. */
export function offWindow(
  { value, uncertainty, below, above = false }: TestResult,
  { low, high, sd }: ExpectedWindow,
): { by: number; z: number } {
  const least = below ? Math.min(0, value) : value;
  const most = above ? Number.POSITIVE_INFINITY : value;
  const by = least > high ? least - high : most < low ? most - low : 0;
  return { by, z: by / combine(Math.max(1e-9, uncertainty), sd) };
}

/** What a result is judged by: null where nothing is known, or where standing beyond that edge is known already. */
export interface SurpriseLimits {
  window: ExpectedWindow | null;
  bandLow: number | null;
  bandHigh: number | null;
}

/** On which side of a band a result surely lies; null inside it, and where a bound leaves it open. */
export function sideOfBand(
  { value, below, above = false }: Omit<TestResult, 'uncertainty'>,
  low: number | null,
  high: number | null,
): 'below' | 'above' | null {
  if (!above && low !== null && value < low) return 'below';
  return !below && high !== null && value > high ? 'above' : null;
}

/** Whether a result surprises, so that it is asked for again before it counts: off the window, or newly out of the band. */
export function isSurprise(result: TestResult, { window, bandLow, bandHigh }: SurpriseLimits): boolean {
  if (window !== null && Math.abs(offWindow(result, window).z) > surpriseSds) return true;
  return sideOfBand(result, bandLow, bandHigh) !== null;
}

/** The window between two moments, `share` of the way from the first to the second; beyond them it stays the nearer. */
export function windowBetween(first: ExpectedWindow, second: ExpectedWindow, share: number): ExpectedWindow {
  const part = Math.min(1, Math.max(0, share));
  const between = (a: number, b: number) => a + part * (b - a);
  return {
    low: between(first.low, second.low),
    high: between(first.high, second.high),
    sd: between(first.sd, second.sd),
  };
}
