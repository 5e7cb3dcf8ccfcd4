import { numberWords } from '../../platform/words/numbers.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { convert, unitsOf } from '../../science/units.ts';
import { decimalsIn, type Quantity, say, sayBand, unitName } from '../quantities/quantities.ts';
import type { Measurement } from '../trust/trust.rules.ts';

/** A reading as it was typed, beside what it means. */
export interface Typed {
  /** As entered, in `unit`. */
  value: number;
  unit: string;
  measured: Measurement;
}

/** Slips of the decimal point and of a forgotten dilution or side view. */
const slips = [10, 0.1, 100, 0.01, 1000, 0.001];
/** Around the ten of a view through the side of a tube, or of a decimal point. */
const tenfold: readonly [number, number] = [8, 12];
/** How far from the exact ratio of two chemical forms two tests may still look like it: 4.2 to 4.7 for nitrate. */
const formTolerance = 0.055;

/**
 * What to ask before a reading is kept, in one message; null when there is nothing to ask. A value outside the usual
 * range, ten times the last one, or apart from it just as two ways of stating it are.
 */
export function doubtOf(quantity: Quantity, typed: Typed, last: Measurement | null): string | null {
  return implausible(quantity, typed, last) ?? (last === null ? null : apart(quantity, typed, last));
}

function implausible(quantity: Quantity, typed: Typed, last: Measurement | null): string | null {
  if (isPlausible(quantity, typed.measured.value)) return null;
  const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh);
  const meant = likelyMeant(quantity, typed, last);
  const question = meant === null ? 'Check the decimal point and the unit.' : `Did you mean ${meant}?`;
  return `${usual} is usual; ${asTyped(quantity, typed.value, typed.unit)} is not. ${question}`;
}

/** What an impossible or implausible value may have been meant to be; null when nothing fits. */
export function likelyMeant(
  quantity: Quantity,
  { value, unit }: Pick<Typed, 'value' | 'unit'>,
  last: Measurement | null,
): string | null {
  const middle = last?.value ?? (quantity.plausibleLow + quantity.plausibleHigh) / 2;
  const readings = [
    ...slips.map((factor) => ({ value: Number((value * factor).toPrecision(12)), unit })),
    ...unitsOf(quantity.code).map((other) => ({ value, unit: other })),
  ];
  const possible = readings.flatMap((reading) => {
    const canonical = inCanonical(quantity, reading.value, reading.unit);
    return canonical !== null && canonical !== 0 && isPlausible(quantity, canonical)
      ? [{ reading, canonical }]
      : [];
  });
  const far = (canonical: number) => Math.abs(Math.log(Math.max(canonical, 1e-9) / Math.max(middle, 1e-9)));
  const best = possible.sort((a, b) => far(a.canonical) - far(b.canonical))[0];
  return best === undefined ? null : asTyped(quantity, best.reading.value, best.reading.unit);
}

function apart(quantity: Quantity, { measured }: Typed, last: Measurement): string | null {
  if (measured.below || last.below || measured.value <= 0 || last.value <= 0) return null;
  const noise = combine(measured.uncertainty, last.uncertainty);
  if (Math.abs(measured.value - last.value) <= 3 * noise) return null;
  const times = measured.value / last.value;
  const ratio = Math.max(times, 1 / times);
  const words = `${times > 1 ? `${numberWords(times, 1)} times` : `one ${numberWords(ratio, 1)}th of`} the last reading, ${say(quantity, last.value)}`;
  if (ratio >= tenfold[0] && ratio <= tenfold[1]) {
    return `That is ${words}: read through the side of the tube, a dilution not reckoned in, or the decimal point?`;
  }
  const other = formWithRatio(quantity, ratio);
  if (other === null) return null;
  const [form, own] = [unitName(quantity.code, other), unitName(quantity.code, quantity.canonicalUnit)];
  return `That is ${words}: it looks like ${form} versus ${own}. Check which of the two the kit shows.`;
}

/** Another form of the quantity (nitrate as N, phosphate as P) that stands in this ratio to the canonical one, or null. */
export function formWithRatio(quantity: Quantity, ratio: number): string | null {
  const others = unitsOf(quantity.code).filter(
    (unit) => /^mg\/L \w+$/.test(unit) && unit !== quantity.canonicalUnit,
  );
  const found = others.find((unit) => {
    const exact = convert(quantity.code, 1, unit, quantity.canonicalUnit);
    const apart = Math.max(exact, 1 / exact);
    return apart > 1.5 && Math.abs(ratio / apart - 1) <= formTolerance;
  });
  return found ?? null;
}

function isPlausible(quantity: Quantity, canonical: number): boolean {
  return canonical >= quantity.plausibleLow && canonical <= quantity.plausibleHigh;
}

function inCanonical(quantity: Quantity, value: number, unit: string): number | null {
  try {
    return convert(quantity.code, value, unit, quantity.canonicalUnit);
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

/** A typed value with its unit: its own digits, never more than about the unit's decimals. */
function asTyped(quantity: Quantity, value: number, unit: string): string {
  const decimals = decimalsIn(quantity, unit) + 2;
  const name = unitName(quantity.code, unit);
  return `${numberWords(Number(value.toFixed(decimals)))}${name === '' ? '' : ` ${name}`}`;
}
