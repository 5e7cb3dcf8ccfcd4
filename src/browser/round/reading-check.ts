import { dayMs } from '../../science/numeric/time.ts';
import {
  type ExpectedWindow,
  isSurprise,
  type SurpriseLimits,
  type TestResult,
  windowBetween,
} from '../../science/statistics/surprise.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { canonicalUnit, convert, isQuantityCode, parseReadingText } from '../../science/units.ts';

/** The range that is usual, in the chosen unit of a form. */
interface Range {
  low: number | null;
  high: number | null;
}

const end = (text: string | undefined) => (text === undefined || text === '' ? null : Number(text));

const rangeOf = ({ dataset: { low, high } }: HTMLElement): Range => ({ low: end(low), high: end(high) });

/** The unit in which a number is usual, where it is not in the chosen one: 35.1 is no specific gravity but a PSU. */
function fittingUnit(form: HTMLFormElement, value: number): HTMLOptionElement | undefined {
  return [...form.querySelectorAll<HTMLOptionElement>('select[name="unit"] option')].find((option) => {
    const { low, high } = rangeOf(option);
    return !option.selected && low !== null && high !== null && !isOutside(value, low, high);
  });
}

/** A plain number as it was typed, "8,4" too; null of anything else, which the service reads. */
export function plainNumber(text: string): number | null {
  const plain = text.trim().replace(/[<>]/, '').replace(',', '.').trim();
  return /^[+-]?\d+(\.\d+)?$/.test(plain) ? Number(plain) : null;
}

/** Whether a number lies outside a range whose ends may be open. */
export const isOutside = (value: number, low: number | null, high: number | null) =>
  (low !== null && value < low) || (high !== null && value > high);

/**
 * Asks, of a reading that is not usual, whether it is meant, with what this page knows; true when it may be noted. The
 * service asks again with all it knows.
 */
export function confirmReading(form: HTMLFormElement): boolean {
  const doubt = form.querySelector<HTMLElement>('[data-doubt]');
  const field = (name: string) => new FormData(form).get(name)?.toString() ?? '';
  const shown = plainNumber(field('text'));
  const value = shown === null ? null : shown * (plainNumber(field('dilution')) ?? 1);
  const sure = form.querySelector<HTMLInputElement>('[name="sure"]');
  if (doubt === null || sure === null || value === null || sure.checked) return true;
  const unit = form.querySelector<HTMLOptionElement>('select[name="unit"] option:checked');
  if (unit === null) return true;
  const { low, high } = rangeOf(unit);
  if (!isOutside(value, low, high)) return true;
  doubt.hidden = false;
  const words = doubt.querySelector('[data-doubt-words]');
  if (words !== null)
    words.textContent = `${unit.dataset.usual} is usual. Check the decimal point and the unit.`;
  offerUnit(form, value);
  return false;
}

function offerUnit(form: HTMLFormElement, value: number): void {
  const button = form.querySelector<HTMLButtonElement>('[data-use-unit]');
  if (button === null) return;
  const unit = fittingUnit(form, value);
  button.hidden = unit === undefined;
  if (unit === undefined) return;
  button.dataset.useUnit = unit.value;
  button.textContent = `It is ${unit.text}`;
}

/** Whether what is typed in a form surprises by the rule of the service, with what the page was sent. */
export function typedSurprises(form: HTMLFormElement): boolean {
  const typed = new FormData(form);
  const field = (name: string) => typed.get(name)?.toString() ?? '';
  const noted = {
    code: field('quantityCode'),
    text: field('text'),
    unit: field('unit'),
    how: field('how'),
    dilution: field('dilution'),
    at: new Date().toISOString(),
  };
  return surprises(form.dataset.expects ?? '', noted) === true;
}

/** What a result is judged by, as the row of its test carries it; canonical. */
interface Expects {
  at: number;
  limits: SurpriseLimits;
  tomorrow: ExpectedWindow | null;
  methods: Record<string, [absolute: number, relative: number]>;
}

/** The relative uncertainty of a test whose method is not known, as the service takes it. */
const unknownRelative = 0.1;

/** One result as it was noted. */
export interface NotedTest {
  code: string;
  text: string;
  unit: string;
  /** "<method>" or "<method>/<kit>". */
  how: string;
  /** The sample was diluted to so many times its volume; '' for not at all. */
  dilution: string;
  /** ISO 8601. */
  at: string;
}

/**
 * Whether a noted result surprises by the rule of the service, with what the page was sent; null where that cannot be
 * told here: nothing was sent, or the text is one for the service to read.
 */
export function surprises(expectsText: string, noted: NotedTest): boolean | null {
  const expects = expectsText === '' ? null : (JSON.parse(expectsText) as Expects);
  const result = expects === null ? null : resultOf(noted, expects);
  if (expects === null || result === null) return null;
  const { limits, tomorrow, at } = expects;
  const share = (Date.parse(noted.at) - at) / dayMs;
  const window =
    limits.window === null || tomorrow === null
      ? limits.window
      : windowBetween(limits.window, tomorrow, share);
  return isSurprise(result, { ...limits, window });
}

function resultOf({ code, text, unit, how, dilution }: NotedTest, { methods }: Expects): TestResult | null {
  if (!isQuantityCode(code)) return null;
  const read = parseReadingText(text, code, unit);
  if (!read.ok || read.value === null) return null;
  const factor = plainNumber(dilution) ?? 1;
  const shown = convert(code, read.value, read.unit, canonicalUnit(code));
  const [absolute, relative] = methods[how.split('/')[0] ?? ''] ?? [0, unknownRelative];
  return {
    value: shown * factor,
    uncertainty: combine(absolute, relative * Math.abs(shown)) * factor,
    below: read.censored === 'below',
    above: read.censored === 'above',
  };
}
