import { convert } from '../../science/units.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';

/**
 * A range of canonical values in a unit that a reading can be entered in, so that a tablet without a network can ask
 * whether a number is meant. Rounded to four digits; null where the unit cannot say an end of it.
 */
export function typingRange<E extends number | null>(
  quantity: Pick<Quantity, 'code' | 'canonicalUnit'>,
  unit: string,
  low: E,
  high: E,
): { low: E; high: E } | null {
  const end = (value: E): E =>
    (value === null
      ? null
      : Number(convert(quantity.code, value, quantity.canonicalUnit, unit).toPrecision(4))) as E;
  try {
    return { low: end(low), high: end(high) };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
