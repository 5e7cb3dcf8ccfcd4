import { plural } from '../../platform/words/numbers.ts';
import { productKey } from '../dosing/product-effect.rules.ts';
import type { WaterRecord } from '../record/water-record.ts';
import type { DemandRate } from './rate.rules.ts';
import type { DemandData } from './supply.rules.ts';

/** Something that was dosed in some days and whose effect nobody has said. */
export interface UnknownProduct {
  substance: string;
  doses: number;
}

/** The doses of a water that may have raised a quantity by nobody knows how much: it is theirs, or nobody has said whose they are. */
export const unknownDosesOf = (
  { doses }: Pick<WaterRecord, 'doses'>,
  code: string,
): Pick<DemandData, 'unknownDoses'> => ({
  unknownDoses: doses.flatMap(({ day, substance, quantityCode, rise }) =>
    rise === null && (quantityCode === null || quantityCode === code) ? [{ day, substance }] : [],
  ),
});

/**
 * What was dosed in the days of a rate with an effect that nobody has said, the commonest first. It may be what holds the
 * level, so a level that stands still says nothing of the use.
 */
export function unknownIn(
  { unknownDoses }: Pick<DemandData, 'unknownDoses'>,
  { fromDay, toDay }: Pick<DemandRate, 'fromDay' | 'toDay'>,
): UnknownProduct[] {
  const during = unknownDoses.filter(({ day }) => day >= fromDay && day < toDay);
  return [...Map.groupBy(during, ({ substance }) => productKey(substance)).values()]
    .map((doses) => ({ substance: doses[0]?.substance ?? '', doses: doses.length }))
    .sort((a, b) => b.doses - a.doses);
}

const named = 3;

/** "“alk part”", "“alk part” and “mix B”", "“a”, “b”, “c” and 2 more". */
export function productsWords(products: readonly Pick<UnknownProduct, 'substance'>[]): string {
  const names = products.slice(0, named).map(({ substance }) => `“${substance}”`);
  const more = products.length - names.length;
  const parts = more > 0 ? [...names, `${more} more`] : names;
  const last = parts.pop() ?? '';
  return parts.length === 0 ? last : `${parts.join(', ')} and ${last}`;
}

/** "13 doses of “alk part” are not in it". */
export function notCountedWords(products: readonly UnknownProduct[]): string {
  const doses = products.reduce((sum, one) => sum + one.doses, 0);
  return `${plural(doses, 'dose', 'doses')} of ${productsWords(products)} ${doses === 1 ? 'is' : 'are'} not in it: what ${products.length === 1 ? 'it raises' : 'they raise'} is not known`;
}
