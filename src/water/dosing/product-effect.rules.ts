import { convertDifference, isQuantityCode } from '../../science/units.ts';
import { type Quantity, usualMiddle } from '../quantities/quantities.ts';

/** What a product may be said to raise: the quantities that use is reckoned for. */
export const raisedCodes = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'] as const;

/** What is chosen where a product raises none of them. */
export const raisesOther = 'other';

/** Amounts are compared within one of these. */
export const bases = ['mL', 'g', 'drops'] as const;
export type Base = (typeof bases)[number];

const parts: Readonly<Record<string, readonly [base: Base, times: number]>> = {
  ...{ mL: ['mL', 1], L: ['mL', 1000], g: ['g', 1], kg: ['g', 1000], drops: ['drops', 1] },
};

/** What an amount is counted in, and how much that is; null for a unit that no dose is kept in. */
export function inBase(amount: number, unit: string): { base: Base; amount: number } | null {
  const found = parts[unit];
  return found === undefined ? null : { base: found[0], amount: amount * found[1] };
}

/** Units whose amounts count in a base: mL and L, g and kg, drops. */
export const unitsOfBase = (base: Base): string[] =>
  Object.keys(parts).filter((unit) => parts[unit]?.[0] === base);

/**
 * What a product is said to do. `quantityCode` null: it raises none of {@link raisedCodes}. `strength`: what one mL, g or drop
 * raises one litre by (canonical unit; so 100 in 100 L raise it by as much); null where that is not known.
 */
export interface ProductEffect {
  quantityCode: string | null;
  strength: number | null;
}

/** A dose as far as it tells what its product does. */
export interface ToldDose {
  amount: number;
  unit: string;
  quantityCode: string | null;
  /** Canonical unit; null where it is not known, 0 without a quantity where it raises none. */
  effect: number | null;
}

/** What a dose in `volumeL` says of its product; null where it says nothing. */
export function effectTold(
  { amount, unit, quantityCode, effect }: ToldDose,
  volumeL: number,
): (ProductEffect & { base: Base }) | null {
  const counted = inBase(amount, unit);
  if (counted === null || effect === null || !(counted.amount > 0)) return null;
  return {
    quantityCode,
    strength: quantityCode === null ? null : (effect * volumeL) / counted.amount,
    base: counted.base,
  };
}

/** What a dose of a product does in `volumeL`, as a row of doses keeps it. */
export function effectByProduct(
  { quantityCode, strength }: ProductEffect,
  { amount, unit }: Pick<ToldDose, 'amount' | 'unit'>,
  volumeL: number,
): Pick<ToldDose, 'quantityCode' | 'effect'> {
  if (quantityCode === null) return { quantityCode, effect: 0 };
  const counted = inBase(amount, unit);
  const isKnown = strength !== null && counted !== null && volumeL > 0;
  return { quantityCode, effect: isKnown ? (strength * counted.amount) / volumeL : null };
}

/** A strength in the farm's unit of its quantity as it is kept, and back. */
export const strengthKept = (quantity: Quantity, stated: number): number =>
  differenceIn(quantity, stated, quantity.displayUnit, quantity.canonicalUnit);
export const strengthShown = (quantity: Quantity, kept: number): number =>
  Number(differenceIn(quantity, kept, quantity.canonicalUnit, quantity.displayUnit).toPrecision(4));

const differenceIn = (quantity: Quantity, value: number, from: string, to: string): number =>
  isQuantityCode(quantity.code)
    ? convertDifference(quantity.code, value, from, to, usualMiddle(quantity))
    : value;

/** Two names of one product: as people write them, without what only looks different. */
export const productKey = (substance: string): string => substance.trim().toLowerCase();
