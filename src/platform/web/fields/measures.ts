import { z } from 'zod';
import { convertMeasure } from '../../../science/units.ts';
import { described, fieldShapes } from '../../door/field-shapes.ts';
import type { Scale } from '../../units/scales.ts';
import { unitsNow, unitText } from '../../units/units.ts';
import { number, optionalNumber, withoutTypedUnit } from '../fields.ts';

// Fields of forms that are read in the unit they were drawn in, and give canonical values.

interface Range {
  what: string;
  /** In litres, centimetres or grams. */
  low: number;
  high: number;
}

type Measured = 'volume' | 'length' | 'mass';

const canonical = { volume: 'L', length: 'cm', mass: 'g' } as const;

/**
 * Where "1.800" or "2,400" may be a thousand and more as well as one and a bit: both lie in the range, and no form draws
 * a number so (`inputLitres`: no comma, no zero at the end, three decimals below ten alone).
 */
function twoReadings(typed: unknown, high: number): [string, string] | null {
  if (typeof typed !== 'string') return null;
  const [, whole = '', mark = '', rest = ''] = /^\s*([1-9]\d{0,2})([.,])(\d{3})\s*$/.exec(typed) ?? [];
  if (whole === '' || Number(whole + rest) > high) return null;
  const drawn = mark === '.' && whole.length === 1 && !rest.endsWith('0');
  return drawn ? null : [whole + rest, String(Number(`${whole}.${rest}`))];
}

/** Reads a number in the unit of now: which one that is, is asked when the form is read. */
function measured<T>(
  measure: Measured,
  { what, low, high }: Range,
  field: (range: Range & { unit: string }) => z.ZodType<T>,
): z.ZodType<T> {
  const isOptional = (field as unknown) !== number;
  const shape = {
    json: {
      type: isOptional ? ['number', 'null'] : 'number',
      ...{ minimum: low, maximum: high, description: described(what, canonical[measure]) },
    },
    needed: !isOptional,
  };
  return z
    .unknown()
    .default('')
    .transform((sent, context): T => {
      const unit = unitsNow()[measure];
      const typed = typeof sent === 'string' ? withoutTypedUnit(sent, unitText(unit)) : sent;
      const inUnit = (value: number) =>
        Number(convertMeasure(measure, value, canonical[measure], unit).toPrecision(4));
      const two = twoReadings(typed, inUnit(high));
      if (two !== null) {
        context.addIssue({
          code: 'custom',
          message: `Is that ${two[0]} or ${two[1]} ${unitText(unit)}? Write it so, without a mark before three digits.`,
        });
        return z.NEVER;
      }
      const read = field({ what, low: inUnit(low), high: inUnit(high), unit: unitText(unit) }).safeParse(
        typed,
      );
      if (!read.success) {
        for (const { message } of read.error.issues) context.addIssue({ code: 'custom', message });
        return z.NEVER;
      }
      const value = read.data;
      return (
        typeof value === 'number' ? convertMeasure(measure, value, unit, canonical[measure]) : value
      ) as T;
    })
    .register(fieldShapes, shape);
}

/** A volume, in litres. */
export const volume = (range: Range): z.ZodType<number> => measured('volume', range, number);

/** The same; null where nothing was typed. */
export const optionalVolume = (range: Range): z.ZodType<number | null> =>
  measured('volume', range, optionalNumber);

/** A mass, in grams; null where nothing was typed. */
export const optionalMass = (range: Range): z.ZodType<number | null> =>
  measured('mass', range, optionalNumber);

/**
 * A number that is kept in a scale's unit and typed in the one of now; null where nothing was typed. The range is in the
 * kept unit.
 */
export function optionalOnScale({ what, low, high }: Range, scale: Scale): z.ZodType<number | null> {
  return z
    .unknown()
    .default('')
    .transform((typed, context): number | null => {
      const inUnit = (value: number) => Number(scale.toReader(value).toPrecision(4));
      const range = { what, low: inUnit(low), high: inUnit(high), unit: scale.unit() };
      const read = optionalNumber(range).safeParse(typed);
      if (!read.success) {
        for (const { message } of read.error.issues) context.addIssue({ code: 'custom', message });
        return z.NEVER;
      }
      if (read.data === null) return null;
      // Without the noise of the conversion, by which an end of the range would lie outside of it.
      return Math.min(high, Math.max(low, Number(scale.fromReader(read.data).toPrecision(12))));
    });
}

/** The same, which has to be typed. */
export const onScale = (range: Range, scale: Scale): z.ZodType<number> =>
  optionalOnScale(range, scale).pipe(z.number({ error: `Enter ${range.what}.` }));

const inMillimetres = (cm: number) => Math.round(cm * 10);

/** A length of what is built, in whole millimetres. The range is in centimetres. */
export const length = (what: string, low: number, high: number): z.ZodType<number> =>
  measured('length', { what, low, high }, number).transform(inMillimetres);

/** The same; null where nothing was typed. */
export const optionalLength = (what: string, low: number, high: number): z.ZodType<number | null> =>
  measured('length', { what, low, high }, optionalNumber).transform((cm) =>
    cm === null ? null : inMillimetres(cm),
  );

/** The size of a piece, in whole millimetres; typed in mm, or in inches by whoever measures in them. */
export const optionalPieceSize = (): z.ZodType<number | null> =>
  z
    .unknown()
    .default('')
    .transform((typed, context): number | null => {
      const inch = unitsNow().length === 'in';
      const read = optionalNumber({
        what: 'the size',
        low: inch ? 0.04 : 1,
        high: inch ? 78.7 : 2000,
        unit: inch ? 'in' : 'mm',
      }).safeParse(typed);
      const message = read.success
        ? !inch && read.data !== null && !Number.isInteger(read.data)
          ? 'Enter whole millimetres.'
          : null
        : (read.error.issues[0]?.message ?? '');
      if (message !== null) {
        context.addIssue({ code: 'custom', message });
        return z.NEVER;
      }
      const size = read.data ?? null;
      return size === null || !inch ? size : Math.round(convertMeasure('length', size, 'in', 'mm'));
    })
    .register(fieldShapes, {
      json: {
        type: ['integer', 'null'],
        minimum: 1,
        maximum: 2000,
        description: 'The size of a piece, in mm',
      },
    });
