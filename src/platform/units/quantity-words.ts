import type { Quantity } from '../../generated/prisma/client.ts';
import { convert, convertDifference, unitName } from '../../science/units.ts';
import { inputNumber, numberWords } from '../words/numbers.ts';
import { figureKept } from './kept-words.ts';
import { ownQuantities } from './units.ts';

// The one place where values of quantities become text, in the unit that the quantity says it is shown in.

/** A value as the farm writes it. */
export interface ValueParts {
  text: string;
  unit: string;
}

/** How a quantity is written: what a value needs to become text. */
export type DisplayQuantity = Pick<Quantity, 'code' | 'canonicalUnit' | 'displayUnit' | 'decimals'>;

/** A canonical value in the farm's unit, with the farm's decimals. */
export function show(quantity: DisplayQuantity, canonicalValue: number): ValueParts {
  const { value, unit } = farmValue(quantity, canonicalValue);
  const decimals = unit === quantity.displayUnit ? quantity.decimals : decimalsIn(quantity, unit);
  const parts = { text: numberWords(value, decimals), unit: unitName(quantity.code, unit) };
  return keptParts(quantity, parts, 'value', [canonicalValue]);
}

/** Parts of a figure that is kept, each with what it was made from, where people may have the quantity in own units. */
function keptParts(
  { code, displayUnit, decimals }: DisplayQuantity,
  { text, unit }: ValueParts,
  kind: 'value' | 'difference',
  made: readonly number[],
): ValueParts {
  if (!(ownQuantities as readonly string[]).includes(code)) return { text, unit };
  const from = [code, displayUnit, decimals, ...made];
  return { text: figureKept(text, kind, ...from), unit: figureKept(unit, `${kind}-unit`, ...from) };
}

/** "8.3 dKH", or "< 0.02 mg/L as PO₄" below detection. */
export function say(quantity: DisplayQuantity, canonicalValue: number, below = false): string {
  const { text, unit } = show(quantity, canonicalValue);
  return `${below ? '< ' : ''}${text}${unit === '' ? '' : ` ${unit}`}`;
}

/** A reading as a value or a bound; `value` canonical. */
export interface Bounded {
  value: number;
  /** At most the value: below detection. */
  below: boolean;
  /** At least the value: beyond the scale. */
  above?: boolean;
}

/** The sign before a bound: "< " below detection, "> " beyond the scale. */
export const boundMark = ({ below, above = false }: Omit<Bounded, 'value'>): string =>
  below ? '< ' : above ? '> ' : '';

/** "8.3 dKH", "< 0.02 mg/L as PO₄" below detection, "> 20 mg/L as NO₃" beyond the scale. */
export const sayReading = (quantity: DisplayQuantity, { value, below, above = false }: Bounded): string =>
  `${boundMark({ below, above })}${say(quantity, value)}`;

/**
 * A canonical difference (an uncertainty, a swing) in the farm's unit. `at`: the canonical value it is around. One
 * more decimal than the value when the farm's decimals would show it as 0.
 */
export function showDifference(quantity: DisplayQuantity, difference: number, at: number): ValueParts {
  const { unit } = farmValue(quantity, at);
  const value = differenceIn(quantity, difference, unit, at);
  const usual = unit === quantity.displayUnit ? quantity.decimals : decimalsIn(quantity, unit);
  const decimals = value !== 0 && Math.abs(value) < 0.5 * 10 ** -usual ? usual + 1 : usual;
  const parts = { text: numberWords(value, decimals), unit: unitName(quantity.code, unit) };
  return keptParts(quantity, parts, 'difference', [difference, at]);
}

/** "1.5 dKH": how far apart two values are as they are shown, so that whoever takes one from the other gets the same. */
export function sayApart(quantity: DisplayQuantity, one: number, other: number): string {
  const [a, b] = [farmValue(quantity, one), farmValue(quantity, other)];
  const decimals = a.unit === quantity.displayUnit ? quantity.decimals : decimalsIn(quantity, a.unit);
  const shown = Number(a.value.toFixed(decimals)) - Number(b.value.toFixed(decimals));
  const scale = a.value === b.value || shown === 0 ? 1 : shown / (a.value - b.value);
  return sayDifference(quantity, Math.abs((one - other) * scale), one);
}

/**
 * "0.25 dKH": what one dose raises or lowers, to two figures at least, so that nobody thinks that the cell of a file was read wrong.
 * A number that its usual decimals say in full stays as it is.
 */
export function sayRise(quantity: DisplayQuantity, difference: number, at: number): string {
  const { text, unit } = showDifference(quantity, difference, at);
  const value = differenceIn(quantity, difference, farmValue(quantity, at).unit, at);
  const figures = value === 0 ? 0 : Math.max(0, 1 - Math.floor(Math.log10(Math.abs(value))));
  const [, decimals = ''] = text.split('.');
  const said = figures <= decimals.length ? text : numberWords(Number(value.toFixed(figures)));
  return unit === '' ? said : `${said} ${unit}`;
}

/** "0.3 dKH": a canonical difference around `at`, in words. */
export function sayDifference(quantity: DisplayQuantity, difference: number, at: number): string {
  const { text, unit } = showDifference(quantity, difference, at);
  return unit === '' ? text : `${text} ${unit}`;
}

/**
 * A canonical value as it stands in an input: the number in the farm's unit, without a thousands mark, with one more
 * decimal than it is said with, so that what was typed comes back as it was; "" for none.
 */
export function inputValue(quantity: DisplayQuantity, canonicalValue: number | null): string {
  if (canonicalValue === null) return '';
  return inputNumber(farmValue(quantity, canonicalValue).value, quantity.decimals + 1);
}

/** "7.5 to 9.0 dKH", "at least 7.5 dKH", "at most 10 mg/L as NO₃", or null when neither end is set. */
export function sayBand(quantity: DisplayQuantity, low: number | null, high: number | null): string | null {
  if (low !== null && high !== null) return `${show(quantity, low).text} to ${say(quantity, high)}`;
  if (low !== null) return `at least ${say(quantity, low)}`;
  return high === null ? null : `at most ${say(quantity, high)}`;
}

/** The canonical value as a number in the farm's unit; in the canonical unit where the farm's cannot express it. */
export function farmValue(
  quantity: DisplayQuantity,
  canonicalValue: number,
): { value: number; unit: string } {
  try {
    const value = convert(quantity.code, canonicalValue, quantity.canonicalUnit, quantity.displayUnit);
    return { value, unit: quantity.displayUnit };
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    return { value: canonicalValue, unit: quantity.canonicalUnit };
  }
}

function differenceIn(
  { code, canonicalUnit }: DisplayQuantity,
  difference: number,
  unit: string,
  at: number,
): number {
  return unit === canonicalUnit ? difference : convertDifference(code, difference, canonicalUnit, unit, at);
}

/** How many decimals show in `unit` about what the quantity's own decimals show in its display unit. */
export function decimalsIn(quantity: DisplayQuantity & Partial<Quantity>, unit: string): number {
  if (unit === quantity.displayUnit) return quantity.decimals;
  return decimalsAt(quantity, unit, ((quantity.plausibleLow ?? 0) + (quantity.plausibleHigh ?? 0)) / 2);
}

/** The same about a level (canonical), which counts where a scale is no straight line. */
export function decimalsAt(quantity: DisplayQuantity, unit: string, level: number): number {
  const { code, canonicalUnit, displayUnit, decimals } = quantity;
  const at = convert(code, level, canonicalUnit, displayUnit);
  const step = convertDifference(code, 10 ** -decimals, displayUnit, unit, at);
  return Math.max(0, Math.ceil(-Math.log10(Math.abs(step)) - 0.3));
}
