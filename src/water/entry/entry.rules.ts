import { combine } from '../../science/statistics/uncertainty.ts';
import { canonicalUnit, convert, parseReadingText, unitsOf } from '../../science/units.ts';
import { type Quantity, unitName } from '../quantities/quantities.ts';
import { likelyMeant } from './plausibility.rules.ts';

/** One line of the readings form, or of a request: what was typed for one quantity. */
export interface Entry {
  quantityCode: string;
  /** As typed: "8,4", "<0.02", "ND", "8.4 dKH"; empty and "-" mean not measured. */
  text: string;
  /** The unit meant when the text names none; the farm's own when not given. */
  unit?: string | null | undefined;
  methodId?: string | null | undefined;
  kitId?: string | null | undefined;
  /** The person said that a doubted value is really so. */
  sure?: boolean | undefined;
  /** Read through the side of the tube, where the method's chart shows too much. */
  side?: boolean | undefined;
  /** The sample was diluted to this many times its volume. */
  dilution?: number | undefined;
  /** The laboratory's sample or report. */
  batch?: string | undefined;
  note?: string | undefined;
}

/** What a method does to a value. */
export interface MethodFigures {
  absolute: number;
  relative: number;
  detectionLimit: number | null;
  /** What the chart's value is divided by when it is read through the side; null where it cannot be. */
  sideDivisor?: number | null;
}

/** An entry as understood. */
export interface Understood {
  /** What it means in `unit`: as entered, times the factor; below detection the limit. */
  entered: number;
  /** What the number shown was multiplied by: 0.1 through the side of the tube, 5 of a diluted sample. */
  factor: number;
  unit: string;
  /** Canonical. */
  value: number;
  below: boolean;
  uncertainty: number;
}

export type Reading =
  | { ok: true; reading: Understood }
  | { ok: false; message: string }
  | { ok: true; reading: null };

/** Where a method says nothing of itself, a tenth of the value; own choice. */
const unknownRelative = 0.1;

/** What a line means; nothing (`reading: null`) where it says that nothing was measured. */
export function understand(entry: Entry, quantity: Quantity, method: MethodFigures | null): Reading {
  const unit = entry.unit || quantity.displayUnit;
  if (!unitsOf(quantity.code).includes(unit))
    return refuse(`Choose the unit of ${quantity.name.toLowerCase()} from the list.`);
  const parsed = parseReadingText(entry.text, quantity.code, unit);
  if (!parsed.ok) return unread(parsed, entry.text, quantity, unit);
  if (parsed.censored === 'above') {
    return refuse(
      'That is above the scale. Dilute the sample, test again, and enter the result times the dilution.',
    );
  }
  const factor = factorOf(entry, method);
  if (factor === null)
    return refuse('This method has one way to be read. Choose another method, or “read as usual”.');
  if (parsed.value === null || (parsed.value === 0 && parsed.censored === null && method?.detectionLimit)) {
    return belowLimit(quantity, method, factor);
  }
  const entered = Number((parsed.value * factor).toPrecision(12));
  const value = convert(quantity.code, entered, parsed.unit, canonicalUnit(quantity.code));
  const below = parsed.censored === 'below';
  return understood({ entered, factor, unit: parsed.unit, value, below }, method);
}

/** What the number shown is multiplied by to be the sample's value; null where the method cannot be read so. */
function factorOf({ side = false, dilution = 1 }: Entry, method: MethodFigures | null): number | null {
  if (!side) return dilution;
  return method?.sideDivisor ? dilution / method.sideDivisor : null;
}

/** "ND", or a zero by a method that cannot see zero: below what the method detects. */
function belowLimit(quantity: Quantity, method: MethodFigures | null, factor: number): Reading {
  const limit = method?.detectionLimit;
  if (!limit)
    return refuse(
      'Enter what the test could just have seen, like <0.02: this method has no detection limit of its own.',
    );
  const value = limit * factor;
  return understood({ entered: value, factor, unit: quantity.canonicalUnit, value, below: true }, method);
}

function understood(reading: Omit<Understood, 'uncertainty'>, method: MethodFigures | null): Reading {
  const uncertainty = uncertaintyOf(reading.value / reading.factor, method) * reading.factor;
  return { ok: true, reading: { ...reading, uncertainty } };
}

/** Standard uncertainty of a value by its method, canonical unit. */
export function uncertaintyOf(value: number, method: MethodFigures | null): number {
  if (method === null) return Math.abs(value) * unknownRelative;
  return combine(method.absolute, method.relative * Math.abs(value));
}

type Question = Extract<ReturnType<typeof parseReadingText>, { ok: false }>;

function unread({ reason, message }: Question, text: string, quantity: Quantity, unit: string): Reading {
  if (reason === 'empty' || reason === 'not measured') return { ok: true, reading: null };
  const number = /^[+-]?\d+(?:[.,]\d+)?$/.exec(text.trim())?.[0];
  if (reason !== 'impossible' || number === undefined) return refuse(sentence(message));
  const meant = likelyMeant(quantity, { value: Number(number.replace(',', '.')), unit }, null);
  const said = `${quantity.name} of ${number} ${unitName(quantity.code, unit)} cannot be.`.replace(' .', '.');
  return refuse(meant === null ? `${said} ${sentence(message)}` : `${said} Did you mean ${meant}?`);
}

const refuse = (message: string): Reading => ({ ok: false, message });

function sentence(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${/[.?]$/.test(text) ? '' : '.'}`;
}
