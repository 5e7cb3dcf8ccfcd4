import { CholeskyDecomposition, inverse, Matrix } from 'ml-matrix';
import { inRange, positive } from '../numeric/range.ts';

/** The mean of a quantity over a stretch of time; times in days. */
export interface Stretch {
  from: number;
  to: number;
  value: number;
  /** Standard error of the value by itself. */
  sd: number;
}

/** A step that is known to have happened: the size that is expected, and how well that is known (SD). */
export interface KnownStep {
  day: number;
  size: number;
  sd: number;
}

/** How the quantity wanders by itself about a line (SDs of the value), and what its line may be. */
export interface StepOptions {
  /** Wandering that is forgotten within `shortDays`, and within `longDays`. */
  short: number;
  shortDays: number;
  long: number;
  longDays: number;
  /** What is left of each stretch by itself. */
  own: number;
  /** Trend a day: as expected, and its SD. */
  trend: number;
  trendSd: number;
  /** The variance that is assumed counts as so many stretches; the rest is learnt from the series. */
  assumed: number;
}

/** The step that explains a series best. */
export interface Step {
  /** How many days before the end it came. */
  ago: number;
  size: number;
  /** Its size over its standard error. */
  evidence: number;
}

/**
 * Whether a series stepped to another level within its last days, and by how much: generalised least squares of a level, a trend,
 * steps that are known, and one more at each of the days that are asked, in noise that hangs together over days. The step with the
 * most evidence towards `side` is returned; null where none is on that side.
 *
 * Generalised likelihood ratio for a step at an unknown time: Basseville & Nikiforov 1993, Detection of Abrupt Changes, 2.4.3
 * (from memory); Aitken's generalised least squares.
 *
 * @param ago days before `end` at which it may have come
 */
export function stepWithin(
  series: readonly Stretch[],
  known: readonly KnownStep[],
  { end, ago, side }: { end: number; ago: readonly number[]; side: 'down' | 'up' },
  options: StepOptions,
): Step | null {
  if (series.length < 3) return null;
  for (const { from, to } of series) positive(to - from, 'length of a stretch', 'd');
  const rows = series.map((one) => ({ ...one, at: (one.from + one.to) / 2 - end }));
  const level = rows.reduce((sum, { value }) => sum + value, 0) / rows.length;
  const parts = known.map(({ day, ...step }) => ({
    ...step,
    part: series.map((one) => partAfter(one, day)),
  }));
  const whitened = whitener(rows, parts, options);
  const left = whitened(
    rows.map(
      ({ value, at }, i) =>
        value -
        level -
        options.trend * at -
        parts.reduce((sum, { size, part }) => sum + size * (part[i] ?? 0), 0),
    ),
  );
  const all = dot(left, left);
  const steps = ago.flatMap((days): Step[] => {
    const shape = whitened(series.map((one) => partAfter(one, end - days)));
    const square = dot(shape, shape);
    if (square === 0) return [];
    const size = dot(shape, left) / square;
    const rest = all - size ** 2 * square;
    const spread = Math.sqrt((options.assumed + rest) / (options.assumed + rows.length - 1));
    const evidence = ((side === 'down' ? -size : size) * Math.sqrt(square)) / spread;
    return evidence > 0 ? [{ ago: days, size, evidence }] : [];
  });
  return steps.sort((a, b) => b.evidence - a.evidence)[0] ?? null;
}

/** Part of a stretch that lies after a day. */
const partAfter = ({ from, to }: Pick<Stretch, 'from' | 'to'>, day: number): number =>
  Math.min(1, Math.max(0, (to - day) / (to - from)));

const dot = (a: readonly number[], b: readonly number[]): number =>
  a.reduce((sum, one, i) => sum + one * (b[i] ?? 0), 0);

/** The level may be anything: its SD, in the value's unit, far beyond what a level differs from the mean of its series. */
const anyLevel = 2;

/** Takes the noise that hangs together out of a series, so that what is left is independent with SD 1. */
function whitener(
  rows: readonly { at: number; sd: number }[],
  known: readonly { sd: number; part: readonly number[] }[],
  { short, shortDays, long, longDays, own, trendSd }: StepOptions,
): (values: readonly number[]) => number[] {
  inRange(rows.length, 3, 400, 'stretches');
  const covariance = new Matrix(
    rows.map((one, i) =>
      rows.map((other, j) => {
        const apart = Math.abs(one.at - other.at);
        return (
          short ** 2 * Math.exp(-apart / shortDays) +
          long ** 2 * Math.exp(-apart / longDays) +
          (i === j ? one.sd ** 2 + own ** 2 : 0) +
          anyLevel ** 2 +
          trendSd ** 2 * (one.at * other.at) +
          known.reduce((sum, { sd, part }) => sum + sd ** 2 * ((part[i] ?? 0) * (part[j] ?? 0)), 0)
        );
      }),
    ),
  );
  const whitening = inverse(new CholeskyDecomposition(covariance).lowerTriangularMatrix);
  return (values) => whitening.mmul(Matrix.columnVector([...values])).to1DArray();
}
