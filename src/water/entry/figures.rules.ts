import { capitalized } from '../../platform/words/capitals.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { convert, GRAVITY_BASES, unitName } from '../../science/units.ts';
import { farmValue, type Quantity, say, sayBand } from '../quantities/quantities.ts';
import { formWithRatio, isPlausible, likelyIntended } from './entry.rules.ts';

/** A figure of a plan as it was typed, in the farm's unit: an end of a band, a limit, a target. */
export interface TypedFigure {
  /** "the lower end", to begin a sentence with. */
  name: string;
  value: number;
}

/** What a figure is compared with; canonical values, null where nothing is known. */
export interface FigureContext {
  /** The level as it was read last. */
  level: number | null;
  /** The same figure as it stood before. */
  before: number | null;
}

/** Salinity figures of this size are specific gravities (or slips of one, like 1.206 for 1.026); own choice. */
const gravityLike = (quantity: Quantity, value: number) =>
  quantity.code === 'salinity' && quantity.displayUnit === 'PSU' && value > 0.98 && value < 1.3;

/** A ratio that looks like a slip of the decimal point; own choice, as for readings. */
const tenfold = (ratio: number) => ratio >= 8 && ratio <= 12;

/**
 * The question to ask before a figure of a plan is kept; null when there is none. It is asked about as a reading is: a
 * value outside the usual range (a unit or base of another scale, the decimal point), ten times the level or the figure
 * before, or as far from the figure before as two chemical forms are.
 */
export function figureQuestion(
  quantity: Quantity,
  { name, value }: TypedFigure,
  { level, before }: FigureContext,
): string | null {
  if (gravityLike(quantity, value)) return gravityQuestion(name, value);
  const canonical = convert(quantity.code, value, quantity.displayUnit, quantity.canonicalUnit);
  if (!isPlausible(quantity, canonical)) return rangeQuestion(quantity, { name, value }, level);
  return (
    ratioQuestion(quantity, name, canonical, level ?? before) ??
    formQuestion(quantity, name, canonical, before)
  );
}

function gravityQuestion(name: string, value: number): string {
  const meant = Object.keys(GRAVITY_BASES).flatMap((base) => {
    const salinity = salinityAt(value, base);
    return salinity === null
      ? []
      : [`${numberWords(salinity, 1)} PSU at ${base.slice(3).replace('60F/60F', '60/60 °F')}`];
  });
  const asked = `${capitalized(name)} ${numberWords(value)} looks like a specific gravity, not a salinity. Which base has it?`;
  return meant.length === 0
    ? `${asked} By none of them is it seawater: check the digits, then type the salinity in PSU.`
    : `${asked} It is ${meant.join(', ')}. Type the salinity.`;
}

function salinityAt(gravity: number, base: string): number | null {
  try {
    return convert('salinity', gravity, base, 'PSU');
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

function rangeQuestion(quantity: Quantity, { name, value }: TypedFigure, level: number | null): string {
  const last = level === null ? null : { value: level };
  const meant = likelyIntended(quantity, { value, unit: quantity.displayUnit }, last);
  const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh);
  const ask = meant === null ? 'Check the decimal point and the unit.' : `Did you mean ${meant}?`;
  const unit = unitName(quantity.code, quantity.displayUnit);
  const read = `${capitalized(name)} ${numberWords(value)} ${unit}`.trimEnd();
  return `${read} is not usual; ${usual} is. ${ask}`;
}

function ratioQuestion(
  quantity: Quantity,
  name: string,
  canonical: number,
  known: number | null,
): string | null {
  if (known === null || known <= 0 || canonical <= 0) return null;
  const ratio = Math.max(canonical / known, known / canonical);
  if (!tenfold(ratio)) return null;
  return `${capitalized(name)} ${say(quantity, canonical)} is about ${numberWords(ratio, 0)} times off ${say(quantity, known)}, which was here before. Is the decimal point right?`;
}

function formQuestion(
  quantity: Quantity,
  name: string,
  canonical: number,
  before: number | null,
): string | null {
  if (before === null || before <= 0 || canonical <= 0) return null;
  const form = formWithRatio(quantity, Math.max(canonical / before, before / canonical));
  if (form === null) return null;
  const [other, own] = [unitName(quantity.code, form), unitName(quantity.code, quantity.canonicalUnit)];
  return `${capitalized(name)} ${say(quantity, canonical)} was ${say(quantity, before)} before: it looks like ${other} versus ${own}. Which of the two is meant?`;
}

/** Narrower than this part of its middle no test tells inside from outside; wider than this part of the usual range it warns of nothing. Own choices. */
const narrowest = 0.01;
const widest = 0.7;

/** The question about a whole band, canonical ends; null when there is none. Nutrients may be let range widely. */
export function bandQuestion(quantity: Quantity, low: number, high: number): string | null {
  const words = sayBand(quantity, low, high);
  if (high - low <= narrowest * Math.abs(high + low) * 0.5)
    return `${words} is narrower than a test can tell. Is it meant?`;
  const usual = quantity.plausibleHigh - quantity.plausibleLow;
  if (quantity.plausibleLow > 0 && high - low > widest * usual)
    return `${words} is so wide that trouble would pass unseen. Is it meant?`;
  return null;
}

/** A figure of the farm's unit from a canonical one, as the questions take it. */
export const figureOf = (quantity: Quantity, name: string, canonical: number): TypedFigure => ({
  name,
  value: Number(farmValue(quantity, canonical).value.toPrecision(6)),
});
