import { finite, inRange } from '../numeric/range.ts';
import { isQuantityCode, QUANTITIES, type Quantity } from './quantities.ts';
import type { Unit } from './scales.ts';

/** The codes of the units a quantity can be stated in, the canonical one first. */
export function unitsOf(quantityCode: string): string[] {
  return quantityOf(quantityCode).units.map((unit) => unit.code);
}

/** The code of the unit in which values of a quantity are stored. */
export function canonicalUnit(quantityCode: string): string {
  return quantityOf(quantityCode).units[0].code;
}

/**
 * A value of one quantity in another unit. Linear conversions keep full double precision; specific gravity and
 * conductivity go through practical salinity (EOS-80, PSS-78; error in the functions there).
 *
 * @throws RangeError for an unknown quantity or unit, a value that is not finite, or a specific gravity or
 * conductivity outside the range of those equations
 * Sources: IUPAC atomic weights 2021 for chemical forms; 1 dKH = 10 mg/L CaO; Millero et al. 2008 for g/kg.
 */
export function convert(quantityCode: string, value: number, fromUnit: string, toUnit: string): number {
  const from = unitOf(quantityCode, fromUnit);
  const to = unitOf(quantityCode, toUnit);
  finite(value, quantityCode, fromUnit);
  return from === to ? value : fromCanonical(to, toCanonical(from, value));
}

/**
 * A difference (a change, a rate per day, a standard uncertainty) in another unit: 1 degC of change is 1.8 degF.
 * Where the unit is curved (specific gravity, conductivity) the difference is taken around `at`, a value in
 * `fromUnit`; elsewhere `at` does not matter.
 */
export function convertDifference(
  quantityCode: string,
  difference: number,
  fromUnit: string,
  toUnit: string,
  at?: number,
): number {
  const [from, to] = [unitOf(quantityCode, fromUnit).scale, unitOf(quantityCode, toUnit).scale];
  finite(difference, `difference of ${quantityCode}`, fromUnit);
  if ('zero' in from && 'zero' in to) return (difference / from.perCanonical) * to.perCanonical;
  if (at === undefined)
    throw new RangeError(`a difference in ${fromUnit} or ${toUnit} needs the value it is at`);
  const [low, high] = [at - difference / 2, at + difference / 2];
  return convert(quantityCode, high, fromUnit, toUnit) - convert(quantityCode, low, fromUnit, toUnit);
}

/**
 * Checks that a value can be true of water at all (pH 0 to 14, calcium 0 to 2,000 mg/L, ...).
 *
 * @returns the value, unchanged
 * @throws RangeError naming the range in the given unit
 */
export function possibleValue(quantityCode: string, value: number, unit: string): number {
  const { name, possible } = quantityOf(quantityCode);
  const [low, high] = rangeIn(quantityCode, possible, unit).map((limit) => Number(limit.toPrecision(4)));
  return inRange(value, low ?? Number.NaN, high ?? Number.NaN, name, unit === name ? '' : unit);
}

/** A canonical range in another unit, its ends in rising order and moved into what the unit can express. */
export function rangeIn(
  quantityCode: string,
  canonical: readonly [number, number],
  unit: string,
): [number, number] {
  const to = unitOf(quantityCode, unit);
  const [low, high] = 'zero' in to.scale ? canonical : overlap(canonical, to.scale.canonicalRange);
  return [fromCanonical(to, low), fromCanonical(to, high)];
}

function overlap(a: readonly [number, number], b: readonly [number, number]): [number, number] {
  return [Math.max(a[0], b[0]), Math.min(a[1], b[1])];
}

/** The quantity with this code; throws a RangeError that lists the known ones. */
export function quantityOf(quantityCode: string): Quantity {
  if (isQuantityCode(quantityCode)) return QUANTITIES[quantityCode];
  throw new RangeError(
    `"${quantityCode}" is not a known quantity (known: ${Object.keys(QUANTITIES).join(', ')})`,
  );
}

function unitOf(quantityCode: string, code: string): Unit {
  const unit = quantityOf(quantityCode).units.find((candidate) => candidate.code === code);
  if (unit) return unit;
  throw new RangeError(
    `"${code}" is not a unit of ${quantityCode} (its units: ${unitsOf(quantityCode).join(', ')})`,
  );
}

function toCanonical({ scale }: Unit, value: number): number {
  return 'zero' in scale ? (value - scale.zero) / scale.perCanonical : scale.toCanonical(value);
}

function fromCanonical({ scale }: Unit, value: number): number {
  return 'zero' in scale ? value * scale.perCanonical + scale.zero : scale.fromCanonical(value);
}
