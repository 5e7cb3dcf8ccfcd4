import { inRange, notNegative } from '../numeric/range.ts';
import { normalQuantile } from '../statistics/normal.ts';

/** One piece: how long it was followed (any unit of time), and whether it was lost then or just no longer followed. */
export interface Followed {
  time: number;
  lost: boolean;
}

/** The estimate from one time of loss up to the next. */
export interface SurvivalStep {
  time: number;
  atRisk: number;
  lost: number;
  survival: number;
  /** Greenwood's standard error; null once all are lost. */
  se: number | null;
  /** Interval on the log(-log) scale; null once all are lost. */
  low: number | null;
  high: number | null;
}

export interface Survival {
  followed: number;
  lost: number;
  steps: SurvivalStep[];
  /** Time by which half are lost, with its interval; null where not reached. */
  median: { time: number | null; low: number | null; high: number | null };
}

/**
 * Kaplan-Meier estimate of the share that survives, with Greenwood's error and log(-log) intervals, which stay within
 * 0 and 1. Pieces no longer followed at a time of loss count as at risk then.
 *
 * Kaplan & Meier 1958, Greenwood 1926, Kalbfleisch & Prentice 1980; interval of the median by Brookmeyer & Crowley
 * 1982. Pieces of one batch share their fate: the interval is then too narrow.
 *
 * @param level probability of the intervals (0.95 when left out)
 */
export function kaplanMeier(pieces: readonly Followed[], level = 0.95): Survival {
  const z = normalQuantile((1 + inRange(level, 0.5, 0.999, 'probability')) / 2);
  let [survival, greenwood] = [1, 0];
  const steps = lossTimes(pieces).map(({ time, atRisk, lost }) => {
    survival *= 1 - lost / atRisk;
    greenwood += lost / (atRisk * (atRisk - lost));
    return { time, atRisk, lost, survival, ...limits(survival, greenwood, z) };
  });
  return {
    followed: pieces.length,
    lost: pieces.filter((piece) => piece.lost).length,
    steps,
    median: {
      time: firstAtMost(steps, (step) => step.survival),
      low: firstAtMost(steps, (step) => step.low ?? 0),
      high: firstAtMost(steps, (step) => step.high ?? Infinity),
    },
  };
}

/** Share that survives to `time`, with its interval; before the first loss 1, without an interval. */
export function survivalAt(
  { steps }: Survival,
  time: number,
): Pick<SurvivalStep, 'survival' | 'low' | 'high'> {
  notNegative(time, 'time');
  const step = steps.findLast((s) => s.time <= time);
  return step
    ? { survival: step.survival, low: step.low, high: step.high }
    : { survival: 1, low: null, high: null };
}

/** Each time at which something was lost, in order, with the number still followed then. */
export function lossTimes(pieces: readonly Followed[]): { time: number; atRisk: number; lost: number }[] {
  for (const { time } of pieces) inRange(time, 0, Number.MAX_VALUE, 'time followed');
  const byTime = Map.groupBy(
    pieces.toSorted((a, b) => a.time - b.time),
    (piece) => piece.time,
  );
  let atRisk = pieces.length;
  const times: { time: number; atRisk: number; lost: number }[] = [];
  for (const [time, group] of byTime) {
    const lost = group.filter((piece) => piece.lost).length;
    if (lost > 0) times.push({ time, atRisk, lost });
    atRisk -= group.length;
  }
  return times;
}

function limits(survival: number, greenwood: number, z: number): Pick<SurvivalStep, 'se' | 'low' | 'high'> {
  if (survival <= 0) return { se: null, low: null, high: null };
  const spread = (z * Math.sqrt(greenwood)) / Math.log(survival);
  return {
    se: survival * Math.sqrt(greenwood),
    low: survival ** Math.exp(-spread),
    high: survival ** Math.exp(spread),
  };
}

function firstAtMost(steps: readonly SurvivalStep[], of: (step: SurvivalStep) => number): number | null {
  return steps.find((step) => of(step) <= 0.5 + 1e-12)?.time ?? null;
}
