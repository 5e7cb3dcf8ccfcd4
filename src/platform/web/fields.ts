import { z } from 'zod';
import { described, fieldShapes } from '../door/field-shapes.ts';
import { calendarDay } from './moments.ts';

// Building blocks of form schemas: text from a form in, checked values out, messages whole. JSON may send numbers,
// true and null for what a form sends as text.

const typed = z
  .union([
    z.string(),
    z.number().transform(String),
    z.boolean().transform((ticked) => (ticked ? 'yes' : '')),
    z.null().transform(() => ''),
    z.array(z.string()).transform((all) => all.at(-1) ?? ''),
  ])
  .default('');

/** Text that must be there. `what`: "a name". */
export const text = (what: string, max = 200) =>
  typed
    .transform((value) => value.trim())
    .pipe(z.string().min(1, `Enter ${what}.`).max(max, `At most ${max} characters.`))
    .register(fieldShapes, {
      json: { type: 'string', minLength: 1, maxLength: max, description: described(what) },
      needed: true,
    });

/** Optional text. */
export const optionalText = (max = 2000) =>
  typed
    .transform((value) => value.trim())
    .pipe(z.string().max(max, `At most ${max} characters.`))
    .register(fieldShapes, { json: { type: 'string', maxLength: max } });

/** An e-mail address as mail servers take it: at most 64 characters before the @ and 254 in all (RFC 5321, 4.5.3.1). */
export const mailAddress = (message: string) =>
  z
    .email(message)
    .max(254, message)
    .regex(/^.{1,64}@/, message);

/** One of the listed values. */
export const choice = <const T extends readonly [string, ...string[]]>(values: T, message: string) =>
  typed.pipe(z.enum(values, { error: message })).register(fieldShapes, {
    json: { type: 'string', enum: [...values], description: message },
    needed: !values.includes(''),
  });

/** The id of something chosen from a list. */
export const chosen = (message: string) =>
  typed.pipe(z.uuid({ error: message })).register(fieldShapes, {
    json: { type: 'string', format: 'uuid', description: message },
    needed: true,
  });

/** Like `chosen`; null when nothing is chosen. */
export const optionalChosen = () =>
  typed
    .transform((value) => (value === '' ? null : value))
    .pipe(z.uuid({ error: 'Choose one of the list.' }).nullable())
    .register(fieldShapes, {
      json: { type: ['string', 'null'], description: 'An id; empty for none' },
    });

const decimal = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/;

const bare = (value: string): string => value.replace(/\s/g, '').replace('−', '-');

/** "1,040.6": commas between thousands, as pages write them, and a point. */
const withThousands = /^[+-]?\d{1,3}(,\d{3})+\.\d*$/;

/** What was typed as a number, with a decimal point or comma; NaN where it is none. */
export function typedNumber(value: string): number {
  const plain = bare(value);
  if (withThousands.test(plain)) return Number(plain.replaceAll(',', ''));
  return decimal.test(plain) ? Number(plain.replace(',', '.')) : Number.NaN;
}

/** What was typed without the unit that the box shows after it: "240 cm", "40 %", "3 day" where it shows days. */
export function withoutTypedUnit(value: string, unit: string | undefined): string {
  if (unit === undefined || unit === '') return value;
  const names = [unit, unit.replace(/s$/, ''), `${unit}s`].map((name) => name.toLowerCase());
  const [, digits = value, rest = ''] = /^(.*?[\d.,])\s*([^\d\s.,].*?)\.?\s*$/s.exec(value) ?? [];
  return names.includes(rest.toLowerCase()) ? digits : value;
}

/** "1,050": one comma before three figures. */
const eitherMark = /^([+-]?)([1-9]\d{0,2}),(\d{3})$/;

/**
 * What was typed as a number within a range. A comma before three figures is a decimal or a thousands mark: where both
 * numbers are within the range nobody knows which, and it is asked for again.
 */
function numberWithin({ low, high, unit }: Range, isWhole = false) {
  const fits = (value: number) => value >= low && value <= high;
  return (text: string, context: z.RefinementCtx): number => {
    const value = withoutTypedUnit(text, unit);
    const either = eitherMark.exec(bare(value));
    if (either === null) return typedNumber(value);
    const [typedText, sign, before, after] = either;
    const [small, large] = [Number(`${sign}${before}.${after}`), Number(`${sign}${before}${after}`)];
    if (!fits(large)) return small;
    if (isWhole || !fits(small)) return large;
    context.addIssue(`“${typedText}” can mean ${small} or ${large}. Write it without a thousands mark.`);
    return z.NEVER;
  };
}

interface Range {
  what: string;
  low: number;
  high: number;
  unit?: string;
  /** What a number outside the range may have been meant to be, in words; null where nothing fits. */
  meant?: (value: number) => string | null;
}

const rangeMessage = ({ what, low, high, unit }: Range) =>
  `Enter ${what} as a number from ${low} to ${high}${unit === undefined ? '' : ` ${unit}`}.`;

const rangeJson = ({ what, low, high, unit }: Range) => ({
  minimum: low,
  maximum: high,
  description: described(what, unit),
});

const ranged = (range: Range) => {
  const error = ({ input }: { input?: unknown }) => {
    const meant = typeof input === 'number' && Number.isFinite(input) ? (range.meant?.(input) ?? null) : null;
    return meant === null ? rangeMessage(range) : `${rangeMessage(range)} Did you mean ${meant}?`;
  };
  return z.number({ error }).min(range.low, { error }).max(range.high, { error });
};

/** A number within a range, decimal point or comma. */
export const number = (range: Range) =>
  typed
    .transform(numberWithin(range))
    .pipe(ranged(range))
    .register(fieldShapes, { json: { type: 'number', ...rangeJson(range) }, needed: true });

/** A whole number within a range. */
export const whole = (range: Range) =>
  typed
    .transform(numberWithin(range, true))
    .pipe(ranged(range).int(rangeMessage(range).replace('a number', 'a whole number')))
    .register(fieldShapes, { json: { type: 'integer', ...rangeJson(range) }, needed: true });

/** An optional number; null where nothing was typed. */
export const optionalNumber = (range: Range) =>
  typed
    .transform((value, context) => (value.trim() === '' ? null : numberWithin(range)(value, context)))
    .pipe(ranged(range).nullable())
    .register(fieldShapes, { json: { type: ['number', 'null'], ...rangeJson(range) } });

/** An optional whole number; null where nothing was typed. */
export const optionalWhole = (range: Range) =>
  typed
    .transform((value, context) => (value.trim() === '' ? null : numberWithin(range, true)(value, context)))
    .pipe(ranged(range).int(rangeMessage(range).replace('a number', 'a whole number')).nullable())
    .register(fieldShapes, { json: { type: ['integer', 'null'], ...rangeJson(range) } });

/** An optional day as a date at midnight UTC; null where nothing was typed. */
export const optionalDay = () =>
  typed
    .transform((day) => (day.trim() === '' ? null : day.trim()))
    .pipe(calendarDay('Enter the day like 2026-11-24.').nullable())
    .transform((day) => (day === null ? null : new Date(`${day}T00:00:00Z`)))
    .register(fieldShapes, {
      json: { type: ['string', 'null'], description: 'A day, like 2026-11-24; empty for none' },
    });

/** A check box. */
export const tick = () =>
  typed.transform((value) => value !== '').register(fieldShapes, { json: { type: 'boolean' } });

/** Several check boxes or a multiple list of one name. */
export const many = () =>
  z.union([z.array(z.string()), z.string().transform((one) => (one === '' ? [] : [one]))]).default([]);

/** The page of a long list that an address asks for, counted from `first`; the first where it asks for none that can be. */
export const pageNumber = (first = 1) => z.coerce.number().int().min(first).max(100_000).catch(first);

/** The query of a page with one long list: `page`, from 1. */
export const pageQuery = z.object({ page: pageNumber() });

const versionWords =
  'The version of what is changed, as it was read. It may be left out where If-Match says what was read';

/** The version a form was drawn with, for noticing that somebody else was quicker. */
export const version = () =>
  typed
    .transform((text) => (text === '' ? Number.NaN : Number(text)))
    .pipe(z.number({ error: 'Open the page again.' }).int())
    .register(fieldShapes, { json: { type: 'integer', description: versionWords }, needed: true });
