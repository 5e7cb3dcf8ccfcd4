import type { SizeMeasure } from '../../generated/prisma/enums.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysToSize } from '../../science/growth.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import type { LotGrowth } from './growth.rules.ts';

/** Measures of size with their units. */
export const MEASURES: Readonly<Record<SizeMeasure, { name: string; unit: string }>> = {
  length_mm: { name: 'Length', unit: 'mm' },
  area_cm2: { name: 'Area', unit: 'cm²' },
  mass_g: { name: 'Mass', unit: 'g' },
};

/** "2.1 % a month (0.8 to 3.4)", or why it is not told. */
export function rateWords(lot: LotGrowth): string {
  if (!lot.told) return lot.why;
  const month = (perDay: number) => numberWords(100 * (Math.exp(30 * perDay) - 1), 1);
  const { perDay, low, high } = lot.growth;
  return `${month(perDay)} % a month (${month(low)} to ${month(high)}), from ${plural(Math.round(lot.days), 'day', 'days')} of measuring`;
}

/** When the pieces reach a size: a day and its interval, no further ahead than the measurements span. */
export function saleSizeWords(
  lot: LotGrowth,
  { saleSize, last, lastAt, timeZone }: { saleSize: number; last: number; lastAt: Date; timeZone: string },
): string {
  if (last >= saleSize) return `Reached: ${numberWords(last, 0)} of ${saleSize} mm.`;
  if (!lot.told) return 'Not known: how fast it grows is not known.';
  const { days, earliest, latest } = daysToSize(lot.growth, saleSize);
  if (days === null) return 'Not in sight: it does not grow by its measurements.';
  if (days > lot.days)
    return `Later than in ${plural(Math.round(lot.days), 'day', 'days')}: the measurements do not carry further.`;
  const on = (day: number) => dateWords(daysAfter(lastAt, day), timeZone);
  const end = latest === null || latest > lot.days ? 'open' : on(latest);
  return `About ${on(days)}; between ${on(Math.min(earliest, days))} and ${end === 'open' ? 'a day the measurements do not reach' : end}, 90 of 100 times.`;
}
