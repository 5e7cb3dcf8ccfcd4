import { type DisplayQuantity, decimalsAt } from './quantity-words.ts';
import { ownUnit, unitsNow } from './units.ts';

/** A level of each at which scales that are not straight lines are compared; canonical (sea water). */
export const usualLevels = { temperature: 26, alkalinity: 3, salinity: 35 } as const;

/** The unit in which a quantity is shown to whoever reads: a person's own, else the farm's. */
export const displayUnitNow = (code: string, farms: string): string =>
  ownUnit(code) ?? unitsNow().farmShows?.[code] ?? farms;

/** A quantity in the unit of whoever reads, with as many decimals as tell about the same there. */
export function displayNow<T extends DisplayQuantity>(quantity: T): T {
  const displayUnit = displayUnitNow(quantity.code, quantity.displayUnit);
  return displayUnit === quantity.displayUnit
    ? quantity
    : {
        ...quantity,
        displayUnit,
        decimals: decimalsAt(quantity, displayUnit, usualLevels[quantity.code as keyof typeof usualLevels]),
      };
}
