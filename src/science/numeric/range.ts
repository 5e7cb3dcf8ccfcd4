/**
 * Returns `value` when it lies within [low, high] (both included).
 *
 * @param what the name of the quantity, as a person would say it ("temperature")
 * @param unit the unit of all three numbers; leave empty for a plain number
 * @throws RangeError naming the quantity, the value and the range; NaN is never in range
 */
export function inRange(value: number, low: number, high: number, what: string, unit = ''): number {
  if (value >= low && value <= high) return value;
  throw new RangeError(`${what} ${withUnit(value, unit)} is outside ${range(low, high, unit)}`);
}

/** Returns `value` when it is a finite number, else throws a RangeError that names it. */
export function finite(value: number, what: string, unit = ''): number {
  if (Number.isFinite(value)) return value;
  throw new RangeError(`${what} ${withUnit(value, unit)} is not a finite number`);
}

/** Returns `value` when it is finite and greater than zero, else throws a RangeError that names it. */
export function positive(value: number, what: string, unit = ''): number {
  if (Number.isFinite(value) && value > 0) return value;
  throw new RangeError(`${what} ${withUnit(value, unit)} must be above 0`);
}

/** Returns `value` when it is finite and not below zero, else throws a RangeError that names it. */
export function notNegative(value: number, what: string, unit = ''): number {
  if (Number.isFinite(value) && value >= 0) return value;
  throw new RangeError(`${what} ${withUnit(value, unit)} must be 0 or above`);
}

/** Returns `value` when it is a whole number within [low, high], else throws a RangeError that names it. */
export function wholeNumber(value: number, low: number, high: number, what: string): number {
  if (Number.isInteger(value)) return inRange(value, low, high, what);
  throw new RangeError(`${what} ${value} is not a whole number`);
}

/** True when `value` lies within [low, high]; false for NaN. For results that are flagged, not refused. */
export function isWithin(value: number, low: number, high: number): boolean {
  return value >= low && value <= high;
}

function withUnit(value: number, unit: string): string {
  return unit === '' ? `${value}` : `${value} ${unit}`;
}

function range(low: number, high: number, unit: string): string {
  return unit === '' ? `${low} to ${high}` : `${low} to ${high} ${unit}`;
}
