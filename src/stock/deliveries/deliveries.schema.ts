import { z } from 'zod';
import { levelWords } from '../../platform/units/everyday.ts';
import { choice, optionalNumber, optionalText, text } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { canonicalUnit, convert } from '../../science/units.ts';
import { PURPOSES } from '../quarantine/purposes.rules.ts';
import { type BoxUnits, optionalLevel } from './box-water.ts';

/** How the light is known that a lot stood in before it came. */
export const LIGHT_KNOWN = [
  { value: 'unknown', text: 'Not known' },
  { value: 'stated', text: 'Stated by the supplier' },
  { value: 'measured', text: 'Measured by us there' },
] as const;

/** One lot of a delivery as it is typed in. */
export interface TypedDeliveryLine {
  name: string;
  /** Any name of the kind. */
  kind: string;
  ordered: number | null;
  invoiced: number | null;
  /** Pieces in the box, dead ones among them. */
  counted: number;
  dead: number;
  lightKnown: 'unknown' | 'stated' | 'measured';
  /** PAR it stood in before, umol/(m2 s); null where it is not known. */
  par: number | null;
}

const pieces = (what: string) =>
  optionalNumber({ what, low: 0, high: 100_000 }).pipe(z.number().int('Enter a whole number.').nullable());

/** The fields of the line of a number. */
const fieldsOf = (line: number) => ({
  [`name_${line}`]: optionalText(200),
  [`kind_${line}`]: optionalText(200),
  [`ordered_${line}`]: pieces('how many were ordered'),
  [`invoiced_${line}`]: pieces('how many are on the invoice'),
  [`counted_${line}`]: pieces('how many were in the box'),
  [`dead_${line}`]: pieces('how many arrived dead'),
  [`light_${line}`]: choice(['', 'unknown', 'stated', 'measured'], 'Choose how its light is known.'),
  [`par_${line}`]: optionalNumber({ what: 'its light', low: 1, high: 2500, unit: 'µmol/(m² s)' }),
});

/** The names of a line's fields, empty. */
export const emptyLine = (line: number): Record<string, string> => ({
  ...Object.fromEntries(Object.keys(fieldsOf(line)).map((name) => [name, ''])),
  [`light_${line}`]: 'unknown',
});

/** The fields of the boxes as a whole. */
const boxFields = (timeZone: string, now: Date, units: BoxUnits) =>
  z.object({
    supplier: text('who sent it', 200),
    at: pastMoment(timeZone, now),
    hours: optionalNumber({ what: 'how many hours it was in transit', low: 0.5, high: 240, unit: 'h' }),
    boxDegC: optionalLevel('temperature', units.temperature, {
      what: 'the temperature of the box',
      low: 0,
      high: 45,
    }),
    boxSalinity: optionalLevel('salinity', units.salinity, {
      what: 'the salinity of the box',
      low: 0,
      high: 42,
    }),
    claimHours: optionalNumber({
      what: 'within how many hours a claim is taken',
      low: 1,
      high: 720,
      unit: 'h',
    }),
    tank: optionalText(60),
    purpose: choice(
      PURPOSES.map(({ value }) => value) as ['observe', ...string[]],
      'Choose what the quarantine is for.',
    ),
    note: optionalText(2000),
    /** Why it goes into this water although something speaks against it. */
    despite: optionalText(500),
  });

/** Of no water that corals travel in, but of every specific gravity of it. */
const isLikeGravity = (salinity: number): boolean => salinity > 1 && salinity < 1.04;

/** A delivery as its form brings it, with so many lines and in these units; empty lines are left out. */
export const deliverySchema = (lines: number, timeZone: string, now: Date, units: BoxUnits) => {
  const numbers = Array.from({ length: lines }, (_, i) => i + 1);
  return z
    .object({
      ...boxFields(timeZone, now, units).shape,
      ...Object.assign({}, ...numbers.map(fieldsOf)),
    })
    .transform((typed, context) => {
      const fields = typed as Record<string, unknown>;
      const issue = (field: string, message: string) =>
        context.addIssue({ code: 'custom', message, path: [field] });
      const read = numbers.map((line): TypedDeliveryLine & { line: number } => ({
        line,
        name: fields[`name_${line}`] as string,
        kind: fields[`kind_${line}`] as string,
        ordered: fields[`ordered_${line}`] as number | null,
        invoiced: fields[`invoiced_${line}`] as number | null,
        counted: (fields[`counted_${line}`] as number | null) ?? -1,
        dead: (fields[`dead_${line}`] as number | null) ?? 0,
        lightKnown: (fields[`light_${line}`] || 'unknown') as TypedDeliveryLine['lightKnown'],
        par: fields[`par_${line}`] as number | null,
      }));
      const used = read.filter(
        ({ name, kind, ordered, invoiced, counted }) =>
          name !== '' || kind !== '' || ordered !== null || invoiced !== null || counted >= 0,
      );
      for (const { line, kind, counted, dead, lightKnown, par } of used) {
        if (kind === '') issue(`kind_${line}`, 'Say what it is.');
        if (counted < 0) issue(`counted_${line}`, 'Enter how many were in the box; 0 if none came.');
        else if (dead > counted) issue(`dead_${line}`, `At most the ${counted} that were in the box.`);
        if (lightKnown !== 'unknown' && par === null)
          issue(`par_${line}`, 'Enter the light, or choose that it is not known.');
        if (lightKnown === 'unknown' && par !== null) issue(`light_${line}`, 'Say how this light is known.');
      }
      if (used.length === 0) issue('kind_1', 'Enter at least one lot.');
      const { supplier, at, hours, boxDegC, boxSalinity, claimHours, tank, purpose, note, despite } =
        typed as z.output<ReturnType<typeof boxFields>>;
      if (boxSalinity !== null && isLikeGravity(boxSalinity))
        issue(
          'boxSalinity',
          `${numberWords(boxSalinity, 3)} looks like a specific gravity. As SG 25/25 it is ${levelWords('salinity', convert('salinity', boxSalinity, 'SG 25/25', canonicalUnit('salinity')))}: enter the salinity.`,
        );
      return {
        ...{ supplier, at, hours, boxDegC, boxSalinity, claimHours, tank, purpose, note, despite },
        lines: used.map(({ line: _, ...one }): TypedDeliveryLine => one),
      };
    });
};

/** What becomes of a claim. */
export const claimSchema = z.object({ note: text('what is claimed', 1000) });
export const claimResultSchema = z.object({ result: text('the result', 1000) });

/** What was wrong with a delivery; may be empty while nothing was done with it. */
export const takenBackSchema = z.object({ reason: optionalText(500) });
