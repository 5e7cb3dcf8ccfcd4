import { inRange, notNegative } from '../numeric/range.ts';

/** The fraction (0 to 1) to change every time so that the level just before a change settles at `ceiling`. */
export function fractionForCeiling(
  ceiling: number,
  fresh: number,
  productionPerDay: number,
  intervalDays: number,
): number {
  notNegative(productionPerDay, 'production per day');
  inRange(intervalDays, 0.01, 3650, 'interval', 'd');
  notNegative(fresh, 'concentration of the fresh water');
  if (!(ceiling > fresh))
    throw new RangeError(`the ceiling ${ceiling} must lie above the fresh water's ${fresh}`);
  const fraction = (productionPerDay * intervalDays) / (ceiling - fresh);
  if (fraction <= 1) return fraction;
  throw new RangeError(
    `even a whole change every ${intervalDays} d cannot keep the level under ${ceiling}; change more often or produce less`,
  );
}
