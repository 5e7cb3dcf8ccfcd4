import type { SizeMeasure } from '../../generated/prisma/enums.ts';
import { type Growth, growthRate, type Measurement } from '../../science/growth.ts';
import { daysBetween } from '../../science/numeric/time.ts';

/** Sizes of pieces of one lot on one day, all by one measure. */
export interface Sizes {
  at: Date;
  measure: SizeMeasure;
  sizes: readonly number[];
}

/** Growth in the first days after a cut is regrowth, and is not projected (Loya 1976, Nature 261: 490: two months). */
export const REGROWTH_DAYS = 60;

/** Standard uncertainty of one measured size, as a part of it (own choice: 1 mm on 20 mm). */
const READING_SD = 0.05;

/** A rate is told from sizes that lie this far apart on (own choice; a month of growth is barely above the reading error). */
export const LEAST_DAYS = 28;

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** The middle size of a day: the mean on the scale of ln, as growth is reckoned. */
export const middleSize = (sizes: readonly number[]): number => Math.exp(mean(sizes.map(Math.log)));

/** How a lot grows, by one measure; or why that is not told. */
export type LotGrowth = { told: true; growth: Growth; days: number } | { told: false; why: string };

/**
 * The specific growth rate of a lot by one measure, from the days on which it was measured; the first 60 days after a cut
 * are left out. The error is that of a day's mean: pieces differ, and a mean of few says less.
 *
 * @param cutAt when it was cut; null where it was not cut here
 */
export function growthOf(all: readonly Sizes[], measure: SizeMeasure, cutAt: Date | null): LotGrowth {
  const used = all.filter(
    (one) => one.measure === measure && (cutAt === null || daysBetween(cutAt, one.at) >= REGROWTH_DAYS),
  );
  const first = used[0];
  const last = used.at(-1);
  const untold = (why: string): LotGrowth => ({ told: false, why });
  if (first === undefined || last === undefined)
    return untold(
      all.some((one) => one.measure === measure)
        ? `Measured only within ${REGROWTH_DAYS} days of the cut: that is regrowth and says nothing of growth.`
        : 'Never measured.',
    );
  const days = daysBetween(first.at, last.at);
  if (days < LEAST_DAYS)
    return untold(`Too few to say: two measurements ${LEAST_DAYS} days or more apart are needed.`);
  const byDay: Measurement[] = used.map(({ at, sizes }) => ({
    day: daysBetween(first.at, at),
    size: middleSize(sizes),
  }));
  // The error of a day's mean: the spread of its pieces, no less than the reading's own error.
  const errors = used.map(({ sizes }) => Math.max(READING_SD, spreadOf(sizes)) / Math.sqrt(sizes.length));
  return { told: true, growth: growthRate(byDay, Math.max(0.01, mean(errors))), days };
}

/** The standard deviation of ln size among the pieces of a day; the reading's own error where one piece was measured. */
export function spreadOf(sizes: readonly number[]): number {
  if (sizes.length < 2) return READING_SD;
  const logs = sizes.map(Math.log);
  const middle = mean(logs);
  return Math.sqrt(logs.reduce((sum, one) => sum + (one - middle) ** 2, 0) / (logs.length - 1));
}
