import type { SizeMeasure } from '../../generated/prisma/enums.ts';
import { mmWords, smallUnit } from '../../platform/units/measures.ts';
import { unitsNow, unitText } from '../../platform/units/units.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysToSize } from '../../science/growth.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { convertMeasure } from '../../science/units.ts';
import type { LotGrowth } from './growth.rules.ts';

/** Measures of size, as they are kept: mm, cm² and g. */
export const MEASURES: Readonly<Record<SizeMeasure, string>> = {
  length_mm: 'Length',
  area_cm2: 'Area',
  mass_g: 'Mass',
};

/** How many units of whoever reads, or types, one kept unit is. */
const perKept = (measure: SizeMeasure): number => {
  const { length, mass } = unitsNow();
  if (measure === 'mass_g') return convertMeasure('mass', 1, 'g', mass);
  const inches = length === 'in';
  if (measure === 'length_mm') return inches ? convertMeasure('length', 1, 'mm', 'in') : 1;
  return inches ? convertMeasure('length', 1, 'cm', 'in') ** 2 : 1;
};

/** The unit that whoever reads has sizes in: "mm", "in²", "oz". */
export function sizeUnit(measure: SizeMeasure): string {
  const { length, mass } = unitsNow();
  if (measure === 'mass_g') return unitText(mass);
  if (measure === 'length_mm') return smallUnit();
  return `${unitText(length)}²`;
}

/** A kept size as a number for whoever reads, to a tenth of a millimetre or as fine. */
export function sizeNumber(measure: SizeMeasure, kept: number): string {
  const factor = perKept(measure);
  return numberWords(Number((kept * factor).toFixed(factor === 1 ? 1 : 3)));
}

/** A size that was typed as it is kept. */
export const keptSize = (measure: SizeMeasure, typed: number): number =>
  Number((typed / perKept(measure)).toPrecision(6));

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
  if (last >= saleSize) return `Reached: ${mmWords(last)} of ${mmWords(saleSize)}.`;
  if (!lot.told) return 'Not known: how fast it grows is not known.';
  const { days, earliest, latest } = daysToSize(lot.growth, saleSize);
  if (days === null) return 'Not in sight: it does not grow by its measurements.';
  if (days > lot.days)
    return `Later than in ${plural(Math.round(lot.days), 'day', 'days')}: the measurements do not carry further.`;
  const on = (day: number) => dateWords(daysAfter(lastAt, day), timeZone);
  const end = latest === null || latest > lot.days ? 'open' : on(latest);
  return `About ${on(days)}; between ${on(Math.min(earliest, days))} and ${end === 'open' ? 'a day the measurements do not reach' : end}, 90 of 100 times.`;
}
