import { CALCIUM_PER_ALKALINITY, COMMUNITY_RATIO, type Ratio, ratioOf } from '../../science/calcification.ts';
import { around, type DemandLog, type DemandRate, type DemandReading, rateOf, within } from './rate.rules.ts';

/** One quantity's readings and what was done. */
export interface History {
  readings: readonly DemandReading[];
  log: DemandLog;
}

/** Calcium use beside alkalinity use over the same days; canonical units. */
export interface CalciumRatio {
  days: number;
  alkalinity: DemandRate;
  calcium: DemandRate;
  /** Calcium that calcification takes with the alkalinity used in these days, mg/L. */
  expected: number;
  /** The least change of calcium that its tests tell at both ends, mg/L: 2.8 times the error of one. */
  resolved: number;
  /** mg/L of calcium a meq/L; null where the tests cannot tell: too little was used, or the use itself is not known. */
  ratio: Ratio | null;
}

/** Spans looked at, the shortest first. */
const spans = [28, 56, 84, 112];
/** Common practice: dose strength and volume are known to a twentieth. */
export const doseRelativeSd = 0.05;
/** An interval wider than this says nothing about the 17 to 29 that it stands against. */
const widest = 24;

/**
 * The ratio over the shortest span in which the tests can tell it: the calcium that goes with the alkalinity used must
 * be more than two calcium tests resolve, and the interval narrow enough to say anything. Else what the longest span
 * has, with the ratio null. Null without both uses in any span.
 *
 * @param level probability of the interval
 */
export function calciumRatio(
  alkalinity: History,
  calcium: History,
  nowDay: number,
  { level = 0.95, shortest = 28 } = {},
): CalciumRatio | null {
  let longest: CalciumRatio | null = null;
  for (const days of spans.filter((span) => span >= shortest)) {
    const found = ratioOver(alkalinity, calcium, nowDay, days, level);
    if (found !== null && found.ratio !== null) return found;
    longest = found ?? longest;
  }
  return longest;
}

function ratioOver(
  alkalinity: History,
  calcium: History,
  nowDay: number,
  days: number,
  level: number,
): CalciumRatio | null {
  const from = nowDay - days;
  const [alk, ca] = [alkalinity, calcium].map(({ readings, log }) =>
    rateOf(readings.filter(within(from, nowDay)), around(log, from, nowDay), doseRelativeSd),
  );
  const long = (rate: DemandRate | null | undefined) =>
    rate && rate.readings >= 4 && rate.toDay - rate.fromDay >= 0.7 * days;
  if (!alk || !ca || !long(alk) || !long(ca)) return null;
  const expected = -alk.perDay * days * CALCIUM_PER_ALKALINITY;
  const resolved = 2.8 * usualError(calcium.readings.filter(within(from, nowDay)));
  const ratio = ratioOf(usedOf(ca), usedOf(alk), level);
  const told = ratio !== null && expected > resolved && alk.perDay < 0 && ratio.high - ratio.low <= widest;
  // A ratio that is clearly wrong may be wide: what counts is that its interval leaves the range.
  const clear = ratio !== null && expected > resolved && outside(ratio);
  return { days, alkalinity: alk, calcium: ca, expected, resolved, ratio: told || clear ? ratio : null };
}

/** The use with the uncertainty that its interval shows. */
const usedOf = ({ perDay, low, high }: DemandRate) => ({ value: -perDay, sd: (high - low) / (2 * 1.96) });

const usualError = (readings: readonly { u: number }[]) =>
  readings.reduce((sum, { u }) => sum + u, 0) / Math.max(1, readings.length);

/** The whole interval lies outside what communities are measured to take. */
export const outside = ({ low, high }: Ratio): boolean =>
  low > COMMUNITY_RATIO.high || high < COMMUNITY_RATIO.low;
