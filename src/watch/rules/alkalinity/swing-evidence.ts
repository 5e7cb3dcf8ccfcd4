import { type SwingStep, swingOptions, watchSwing } from '../../../science/filter/swing.ts';
import {
  judgeLately,
  type Lately,
  latelyDays,
  stepEvidence,
} from '../../../science/filter/swing-or-trend.ts';
import type { BesideTheLog } from './logged-moves.ts';

/** The sum is not let grow beyond this many limits, so that an alert can end once the water is steady again. */
export const ceiling = 3;

/** Evidence of the last two weeks below which an alert ends: they speak against a swing. Own choice. */
const endsBelow = -0.5;

/**
 * The cumulative sum, kept at or below `most`. Once it has raised an alert it ends, and begins anew, when the last two weeks by
 * themselves speak against a swing: what is over is not told for as long as it lasted.
 */
export function limitedSums(steps: readonly SwingStep[], opens: number, most: number): number[] {
  const options = swingOptions(1);
  const evidence = steps.map((step) => stepEvidence(step, options));
  let [sum, from, lately] = [0, 0, 0];
  let raised: number | null = null;
  return steps.map(({ day }, i) => {
    const own = evidence[i] ?? 0;
    sum = Math.max(0, Math.min(most, sum + own));
    lately += own;
    while ((steps[from]?.day ?? day) <= day - latelyDays) {
      lately -= evidence[from] ?? 0;
      from += 1;
    }
    if (sum >= opens) raised ??= day;
    if (raised !== null && day - raised >= latelyDays / 2 && lately < endsBelow) [sum, raised] = [0, null];
    if (sum < opens / 2) raised = null;
    return sum;
  });
}

/** A change by the line of two weeks that is told as a fall or rise: dKH, and in its standard errors. Own choice. */
export const trendDkh = 0.6;
const trendClear = 4;

/** A level that falls or rises and does not swing about its line; `tells` where that is large enough to be told, mildly. */
function trendOf(lately: Lately | null, perDkh: number): (Lately & { tells: boolean }) | null {
  if (lately === null || lately.aboutLine > 0) return null;
  const clear = Math.abs(lately.slope) >= trendClear * lately.slopeSd;
  return { ...lately, tells: clear && Math.abs(lately.slope) * lately.days >= trendDkh * perDkh };
}

interface Evidence {
  steps: readonly SwingStep[];
  sums: readonly number[];
  opens: number;
  most: number;
  perDkh: number;
}

/**
 * Whether the last two weeks fall or rise (null where they do not), and whether that or a swing is told, by the tests beside what was
 * put in and as they were read. Within a swing that was told before they began, two weeks that look like a line are part of it.
 */
export function movesOf(
  { asRead, of }: BesideTheLog,
  { steps, sums, opens, most, perDkh }: Evidence,
): { trend: (Lately & { tells: boolean }) | null; tells: boolean } {
  const options = swingOptions(perDkh);
  const read = steps.map((step, i) => ({ ...step, reading: asRead[i] ?? step.reading }));
  const before = read.findLastIndex(({ day }) => day <= (read.at(-1)?.day ?? 0) - latelyDays);
  const swung =
    (sums[before] ?? 0) >= opens && (judgeLately(read.slice(0, before + 1), options)?.aboutLine ?? 0) > 0;
  const lately = [judgeLately(read, options), judgeLately(steps, options)] as const;
  const trend = swung ? null : trendOf(lately[0], perDkh);
  const shown =
    of === 'plan' ||
    (limitedSums(asReadBy(steps, watchSwing(asRead, options)), opens, most).at(-1) ?? 0) >= opens;
  const swings = swung || (lately[1]?.aboutLine ?? 1) > 0;
  return { trend, tells: shown && (trend === null ? swings : trend.tells) };
}

/**
 * The tests as they were read, judged by the spread that was learnt beside the log: they have to show a swing too, since doses that
 * stand in the log and never went in, or that nobody wrote down, make steady water look unsteady.
 */
const asReadBy = (steps: readonly SwingStep[], read: readonly SwingStep[]): SwingStep[] =>
  read.map((step, i) => {
    const { usualSd, ratio } = steps[i] ?? step;
    return { ...step, usualSd, ratio, z: step.reading.otherKit ? 1 : (step.z * step.usualSd) / usualSd };
  });
