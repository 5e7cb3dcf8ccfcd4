import { capitalized } from '../../platform/words/capitals.ts';
import { orWords } from '../../platform/words/lists.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { canonicalUnit, convert, parseReadingText, unitsOf } from '../../science/units.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { decimalsIn, type Quantity, say, sayBand, unitName } from '../quantities/quantities.ts';
import type { MeasuredReading } from '../trust/measured.ts';

/** What was typed for one quantity, in the readings form or in a request. */
export interface ReadingEntry {
  quantityCode: string;
  /** As typed: "8,4", "<0.02", ">20", "ND", "8.4 dKH"; empty and "-" mean not measured. */
  text: string;
  /** The unit meant when the text names none; the farm's own when not given. */
  unit?: string | null | undefined;
  methodId?: string | null | undefined;
  kitId?: string | null | undefined;
  /** The person says that an implausible value is right. */
  sure?: boolean | undefined;
  /** Read through the side of the tube, where the method's chart shows too much. */
  side?: boolean | undefined;
  /** The sample was diluted to this many times its volume. */
  dilution?: number | undefined;
  /** The laboratory's sample or report. */
  batch?: string | undefined;
  note?: string | undefined;
}

/** What a method is known for: its standard uncertainties (absolute in the canonical unit, relative as a share) and limit. */
export interface MethodFigures {
  absolute: number;
  relative: number;
  detectionLimit: number | null;
  /** What the chart's value is divided by when it is read through the side; null where it cannot be. */
  sideDivisor?: number | null;
}

/** What an entry means. */
export interface ParsedValue {
  /** The value in `unit`, with the factor taken in; below detection the limit. */
  entered: number;
  /** What the number shown was multiplied by: 0.1 through the side of the tube, 5 of a diluted sample. */
  factor: number;
  unit: string;
  /** Canonical. */
  value: number;
  below: boolean;
  /** Beyond the scale: the value is the least that it can be. */
  above: boolean;
  uncertainty: number;
}

/** What is a property of the water and not of something dissolved, so that diluting says nothing of it. */
const undilutable = new Set(['temperature', 'ph', 'salinity', 'oxygen']);

/** Whether a diluted sample can be tested for a quantity. */
export const canBeDiluted = (code: string): boolean => !undilutable.has(code);

export type ParseResult =
  | { ok: true; reading: ParsedValue }
  | { ok: false; message: string }
  | { ok: true; reading: null };

/** The relative uncertainty of a test whose method is not known; own choice. */
const defaultRelative = 0.1;

/** What an entry means: a reading, null where it says that nothing was measured, or a message of what is wrong. */
export function parseEntry(
  entry: ReadingEntry,
  quantity: Quantity,
  method: MethodFigures | null,
): ParseResult {
  const unit = entry.unit || quantity.displayUnit;
  if (!unitsOf(quantity.code).includes(unit))
    return failure(`Choose the unit of ${nameInSentence(quantity.name)} from the list.`);
  if ((entry.dilution ?? 1) !== 1 && !canBeDiluted(quantity.code))
    return failure(`${quantity.name} is not tested on a diluted sample. Leave the dilution empty.`);
  const parsed = parseReadingText(entry.text, quantity.code, unit);
  if (!parsed.ok) return parseFailure(parsed, entry.text, quantity, unit);
  const factor = factorOf(entry, method);
  if (factor === null)
    return failure('This method has one way to be read. Choose another method, or “read as usual”.');
  if (parsed.value === null || (parsed.value === 0 && parsed.censored === null && method?.detectionLimit)) {
    return belowDetection(quantity, method, factor);
  }
  const entered = Number((parsed.value * factor).toPrecision(12));
  const value = convert(quantity.code, entered, parsed.unit, canonicalUnit(quantity.code));
  const [below, above] = [parsed.censored === 'below', parsed.censored === 'above'];
  return withUncertainty({ entered, factor, unit: parsed.unit, value, below, above }, method);
}

/** What the number shown is multiplied by to get the sample's value; null where the method cannot be read from the side. */
function factorOf({ side = false, dilution = 1 }: ReadingEntry, method: MethodFigures | null): number | null {
  if (!side) return dilution;
  return method?.sideDivisor ? dilution / method.sideDivisor : null;
}

/** "ND", or a zero by a method with a detection limit: below what the method detects. */
function belowDetection(quantity: Quantity, method: MethodFigures | null, factor: number): ParseResult {
  const limit = method?.detectionLimit;
  if (!limit)
    return failure(
      'Enter what the test could just have seen, like <0.02: this method has no detection limit of its own.',
    );
  const value = limit * factor;
  return withUncertainty(
    { entered: value, factor, unit: quantity.canonicalUnit, value, below: true, above: false },
    method,
  );
}

function withUncertainty(
  reading: Omit<ParsedValue, 'uncertainty'>,
  method: MethodFigures | null,
): ParseResult {
  const uncertainty = uncertaintyOf(reading.value / reading.factor, method) * reading.factor;
  return { ok: true, reading: { ...reading, uncertainty } };
}

/** Standard uncertainty of a value by its method, canonical unit. */
export function uncertaintyOf(value: number, method: MethodFigures | null): number {
  if (method === null) return Math.abs(value) * defaultRelative;
  return combine(method.absolute, method.relative * Math.abs(value));
}

type TextFailure = Extract<ReturnType<typeof parseReadingText>, { ok: false }>;

function parseFailure(
  { reason, message }: TextFailure,
  text: string,
  quantity: Quantity,
  unit: string,
): ParseResult {
  if (reason === 'empty' || reason === 'not measured') return { ok: true, reading: null };
  const number = /^[+-]?\d+(?:[.,]\d+)?$/.exec(text.trim())?.[0];
  if (reason !== 'impossible' || number === undefined) return failure(sentence(message));
  const meant = likelyIntended(quantity, { value: Number(number.replace(',', '.')), unit }, null);
  const impossible = `${quantity.name} of ${number} ${unitName(quantity.code, unit)} cannot be.`.replace(
    ' .',
    '.',
  );
  return failure(
    meant === null ? `${impossible} ${sentence(message)}` : `${impossible} Did you mean ${meant}?`,
  );
}

const failure = (message: string): ParseResult => ({ ok: false, message });

function sentence(text: string): string {
  return `${capitalized(text)}${/[.?]$/.test(text) ? '' : '.'}`;
}

/** A value as it was typed, beside what it means. */
export interface EnteredValue {
  /** As entered, in `unit`. */
  value: number;
  unit: string;
  measured: MeasuredReading;
}

/** Factors of a misplaced decimal point, a forgotten dilution or a reading from the side. */
const commonFactors = [10, 0.1, 100, 0.01, 1000, 0.001];
/** A ratio to the last reading that looks like a factor of ten; own choice. */
const tenfoldRange: readonly [number, number] = [8, 12];
/** How far from the exact ratio of two chemical forms a ratio may be and still look like it: 4.2 to 4.7 for nitrate; own choice. */
const formTolerance = 0.055;

/**
 * The question to ask before a reading is saved; null when there is none. Asked about are a value outside the usual
 * range, one about ten times the last, and one that differs from the last as two chemical forms do.
 */
export function plausibilityQuestion(
  quantity: Quantity,
  typed: EnteredValue,
  last: MeasuredReading | null,
): string | null {
  return (
    rangeQuestion(quantity, typed, last) ?? (last === null ? null : ratioQuestion(quantity, typed, last))
  );
}

function rangeQuestion(quantity: Quantity, typed: EnteredValue, last: MeasuredReading | null): string | null {
  if (isPlausible(quantity, typed.measured.value)) return null;
  const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh);
  const meant = likelyIntended(quantity, typed, last);
  const question = meant === null ? 'Check the decimal point and the unit.' : `Did you mean ${meant}?`;
  return `${usual} is usual; ${enteredWords(quantity, typed.value, typed.unit)} is not. ${question}`;
}

/**
 * What an impossible or implausible value may have been meant to be; null when nothing fits. Beside a known level it is what
 * comes nearest to it; without one all that fit are said: the same digits in other units, and the least slip of the point.
 */
export function likelyIntended(
  quantity: Quantity,
  { value, unit }: Pick<EnteredValue, 'value' | 'unit'>,
  last: Pick<MeasuredReading, 'value'> | null,
): string | null {
  const usual = (reading: Meant) => {
    const canonical = inCanonical(quantity, reading.value, reading.unit);
    return canonical !== null && canonical !== 0 && isPlausible(quantity, canonical)
      ? [{ ...reading, canonical }]
      : [];
  };
  const slips = commonFactors.flatMap((factor) =>
    usual({ value: Number((value * factor).toPrecision(12)), unit }),
  );
  const others = unitsOf(quantity.code).flatMap((other) => usual({ value, unit: other }));
  const fitting =
    last === null ? apart([...others, ...slips.slice(0, 1)]) : nearest([...slips, ...others], last.value);
  return fitting.length === 0
    ? null
    : orWords(fitting.map((one) => enteredWords(quantity, one.value, one.unit)));
}

interface Meant {
  value: number;
  unit: string;
}
type Usual = Meant & { canonical: number };

/** Those that are not the same water under another name. */
const apart = (usual: readonly Usual[]) =>
  usual.filter(
    ({ canonical }, i) => usual.findIndex((one) => Math.abs(one.canonical / canonical - 1) < 1e-6) === i,
  );

function nearest(usual: readonly Usual[], level: number): readonly Usual[] {
  const far = (canonical: number) => Math.abs(Math.log(Math.max(canonical, 1e-9) / Math.max(level, 1e-9)));
  return usual.toSorted((a, b) => far(a.canonical) - far(b.canonical)).slice(0, 1);
}

function ratioQuestion(quantity: Quantity, { measured }: EnteredValue, last: MeasuredReading): string | null {
  if (isBound(measured) || isBound(last) || measured.value <= 0 || last.value <= 0) return null;
  const noise = combine(measured.uncertainty, last.uncertainty);
  if (Math.abs(measured.value - last.value) <= 3 * noise) return null;
  const times = measured.value / last.value;
  const ratio = Math.max(times, 1 / times);
  const words = `${times > 1 ? `${numberWords(times, 1)} times` : `one ${numberWords(ratio, 1)}th of`} the last reading, ${say(quantity, last.value)}`;
  if (ratio >= tenfoldRange[0] && ratio <= tenfoldRange[1]) {
    return `That is ${words}: read through the side of the tube, a dilution not entered, or the decimal point?`;
  }
  const other = formWithRatio(quantity, ratio);
  if (other === null) return null;
  const [form, own] = [unitName(quantity.code, other), unitName(quantity.code, quantity.canonicalUnit)];
  return `That is ${words}: it looks like ${form} versus ${own}. Check which of the two the kit shows.`;
}

const isBound = ({ below, above = false }: MeasuredReading) => below || above;

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

export function isPlausible(quantity: Quantity, canonical: number): boolean {
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
function enteredWords(quantity: Quantity, value: number, unit: string): string {
  const decimals = decimalsIn(quantity, unit) + 2;
  const name = unitName(quantity.code, unit);
  return `${numberWords(Number(value.toFixed(decimals)))}${name === '' ? '' : ` ${name}`}`;
}
