import type { Quantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import type { DisplayQuantity } from '../../platform/units/quantity-words.ts';
import { unitName, unitsOf } from '../../science/units.ts';

export type { Quantity } from '../../generated/prisma/client.ts';
export {
  type Bounded,
  boundMark,
  type DisplayQuantity,
  decimalsIn,
  farmValue,
  inputValue,
  say,
  sayApart,
  sayBand,
  sayDifference,
  sayReading,
  sayRise,
  show,
  showDifference,
} from '../../platform/units/quantity-words.ts';
export { unitName } from '../../science/units.ts';

/** Every quantity, in bench order. */
export async function listQuantities(db: Reader): Promise<Quantity[]> {
  return db.quantity.findMany({ orderBy: [{ position: 'asc' }, { code: 'asc' }] });
}

/** The middle of a quantity's usual range, where no better level is known; canonical. */
export const usualMiddle = ({
  plausibleLow,
  plausibleHigh,
}: Pick<Quantity, 'plausibleLow' | 'plausibleHigh'>): number => (plausibleLow + plausibleHigh) / 2;

/** The units a quantity can be entered in, with their names; the farm's own first. */
export function unitChoices(quantity: DisplayQuantity): { value: string; text: string }[] {
  const others = unitsOf(quantity.code).filter((unit) => unit !== quantity.displayUnit);
  return [quantity.displayUnit, ...others].map((unit) => ({
    value: unit,
    text: unitName(quantity.code, unit) || unit,
  }));
}
