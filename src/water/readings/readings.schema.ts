import { z } from 'zod';
import {
  chosen,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
} from '../../platform/web/fields.ts';
import { momentAsGiven, pastMoment } from '../../platform/web/moments.ts';
import type { ReadingEntry } from '../entry/entry.rules.ts';

const cell = z
  .union([
    z.string(),
    z.number().transform(String),
    z.null().transform(() => ''),
    z.array(z.string()).transform((all) => all.at(-1) ?? ''),
  ])
  .default('');

/** "<method>" or "<method>/<kit>", as the form's one list sends it. */
export function parseInstrument(how: string): { methodId: string | null; kitId: string | null } {
  const [methodId = '', kitId = ''] = how.split('/');
  const id = (given: string) => z.uuid().safeParse(given).data ?? null;
  return { methodId: id(methodId), kitId: id(kitId) };
}

/** The names of one quantity's fields in the readings form. */
export const fieldNames = (code: string) => ({
  text: code,
  unit: `${code}-unit`,
  how: `${code}-how`,
  sure: `${code}-sure`,
  mode: `${code}-mode`,
  dilution: `${code}-dilution`,
});

/** How a number was read, as the form's list sends it: "side", or nothing for as usual. */
export const parseMode = (mode: string): { side: boolean } => ({ side: mode === 'side' });

/** To how many times its volume the sample was diluted; 1 where nothing was typed. */
export const dilutionField = () =>
  optionalNumber({ what: 'the dilution, like 4 or 7.5', low: 1, high: 1000 }).transform(
    (times) => times ?? 1,
  );

/** The readings form: six fields a quantity, one time and one comment for all. Rows left empty are no entries. */
export function readingsForm(codes: readonly string[], timeZone: string, now: Date) {
  const rows: Record<string, typeof cell> = Object.fromEntries(
    codes.flatMap((code) => {
      const { dilution, ...names } = fieldNames(code);
      return [...Object.values(names).map((name) => [name, cell]), [dilution, dilutionField()]];
    }),
  );
  return z.object({ ...rows, at: pastMoment(timeZone, now), note: optionalText() }).transform((typed) => {
    const of = (name: string) => (typed as unknown as Record<string, string>)[name] ?? '';
    const entries = codes.map((code): ReadingEntry => {
      const names = fieldNames(code);
      return {
        quantityCode: code,
        text: of(names.text),
        unit: of(names.unit),
        sure: of(names.sure) !== '',
        ...parseInstrument(of(names.how)),
        ...parseMode(of(names.mode)),
        dilution: (typed as unknown as Record<string, number>)[names.dilution],
      };
    });
    return { at: typed.at, note: typed.note, readings: entries.filter((entry) => entry.text.trim() !== '') };
  });
}

/** One reading of a request: `text` as the test showed it ("8.4", "<0.02", "ND"); unit, method and kit may be left out. */
const entry = z.object({
  quantityCode: text('a quantity'),
  text: text('what was read'),
  unit: optionalText(40),
  methodId: optionalChosen(),
  kitId: optionalChosen(),
  sure: tick(),
  side: tick(),
  dilution: dilutionField(),
  batch: optionalText(100),
  note: optionalText(),
});

/** Many samples of one system, each with its time, as an instrument sends them. */
export const batchRequest = (timeZone: string, now: Date) =>
  z.object({
    systemId: chosen('Name the system.'),
    samples: z
      .array(entry.extend({ at: momentAsGiven(timeZone, now) }), { error: 'Send a list of samples.' })
      .min(1, 'Send at least one sample.')
      .max(2000, 'At most 2,000 samples at once.'),
  });

/** Readings of one system at one time, as JSON. */
export const readingsRequest = (timeZone: string, now: Date) =>
  z.object({
    systemId: chosen('Name the system.'),
    at: pastMoment(timeZone, now),
    note: optionalText(),
    readings: z
      .array(entry, { error: 'Send a list of readings.' })
      .min(1, 'Send at least one reading.')
      .max(100, 'At most 100 readings at once.'),
  });

/** The right value in place of a mistyped one. */
export const amendmentSchema = z.object({
  text: text('what it should have been', 60),
  unit: optionalText(40),
  how: cell,
  mode: cell,
  dilution: dilutionField(),
  sure: tick(),
  reason: text('how it went wrong', 500),
});

/** The water that a reading belongs to, where it was entered for another. */
export const moveSchema = z.object({
  systemId: chosen('Choose the water that it belongs to.'),
  sure: tick(),
  reason: text('how it came to the wrong water', 500),
});

/** The same as a form, which stands beside that of a correction. */
export const moveForm = z.object({
  systemId: moveSchema.shape.systemId,
  moveSure: moveSchema.shape.sure,
  moveReason: moveSchema.shape.reason,
});
