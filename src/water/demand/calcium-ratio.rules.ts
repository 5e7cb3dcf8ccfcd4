import { CALCIUM_PER_ALKALINITY, COMMUNITY_RATIO, type Ratio, ratioOf } from '../../science/calcification.ts';
import { type DemandRate, type DemandRecord, doseRelativeSd, isBetween, rateBetween } from './rate.rules.ts';

/** Calcium use beside alkalinity use over the same days; canonical units. */
export interface CalciumRatio {
  days: number;
  alkalinity: DemandRate;
  calcium: DemandRate;
  /** Calcium that calcification takes with the alkalinity used in these days, mg/L. */
  expected: number;
  /** The smallest change of calcium that two tests resolve, mg/L: 2.8 times the error of one. */
  resolved: number;
  /** mg/L of calcium to one meq/L of alkalinity; null where too little was used for the tests to resolve it. */
  ratio: Ratio | null;
}

/** The spans tried, in days, the shortest first; own choice. */
const spans = [28, 56, 84, 112];
/** An interval twice as wide as the 17 to 29 it is compared with says nothing. */
const widestInterval = 24;
/** Fewest tests of each quantity, and the part of the span that they must cover; own choice. */
const fewestReadings = 4;
const leastCover = 0.7;
/** Two single results differ by more than this many of their standard errors in one case of twenty (1.96 x sqrt 2; the repeatability limit of ISO 5725-6). */
const resolvedErrors = 2.8;

/**
 * The ratio over the shortest span in which the tests can tell it: the calcium that goes with the alkalinity used must
 * be more than two calcium tests resolve, and the interval narrow enough to say anything. Where no span can tell it,
 * the longest one with the ratio null. Null where no span has enough tests of both.
 *
 * @param level probability of the interval
 */
export function calciumRatio(
  alkalinity: DemandRecord,
  calcium: DemandRecord,
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
  alkalinity: DemandRecord,
  calcium: DemandRecord,
  nowDay: number,
  days: number,
  level: number,
): CalciumRatio | null {
  const from = nowDay - days;
  const [alk, ca] = [alkalinity, calcium].map((record) => rateBetween(record, from, nowDay, doseRelativeSd));
  const isLongEnough = ({ readings, fromDay, toDay }: DemandRate) =>
    readings >= fewestReadings && toDay - fromDay >= leastCover * days;
  if (!alk || !ca || !isLongEnough(alk) || !isLongEnough(ca)) return null;
  const expected = -alk.perDay * days * CALCIUM_PER_ALKALINITY;
  const resolved = resolvedErrors * meanError(calcium.readings.filter(isBetween(from, nowDay)));
  const ratio = ratioOf(useOf(ca), useOf(alk), level);
  const isPrecise =
    ratio !== null && expected > resolved && alk.perDay < 0 && ratio.high - ratio.low <= widestInterval;
  // A ratio may be imprecise and still clearly wrong: then its whole interval lies outside the range.
  const isClearlyOutside = ratio !== null && expected > resolved && isOutsideRange(ratio);
  return {
    days,
    alkalinity: alk,
    calcium: ca,
    expected,
    resolved,
    ratio: isPrecise || isClearlyOutside ? ratio : null,
  };
}

/** Use is the negative of the net rate; its standard deviation follows from the 95 % interval. */
const useOf = ({ perDay, low, high }: DemandRate) => ({ value: -perDay, sd: (high - low) / (2 * 1.96) });

const meanError = (readings: readonly { u: number }[]) =>
  readings.reduce((sum, { u }) => sum + u, 0) / Math.max(1, readings.length);

/** Whether the whole interval lies outside the range measured in communities of calcifiers. */
export const isOutsideRange = ({ low, high }: Ratio): boolean =>
  low > COMMUNITY_RATIO.high || high < COMMUNITY_RATIO.low;
