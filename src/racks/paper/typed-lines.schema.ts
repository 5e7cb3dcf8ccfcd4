import { z } from 'zod';
import type { ConditionState } from '../../generated/prisma/enums.ts';
import { optionalPieceSize } from '../../platform/web/fields/measures.ts';
import { choice, optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { CONDITION_STATES } from '../../stock/base/condition-states.rules.ts';

/** What was written on one line; null or '' where the line has nothing of it. */
export interface TypedLine {
  code: string;
  state: ConditionState | '';
  pieces: number | null;
  sizeMm: number | null;
  note: string;
}

const whole = (what: string, low: number, high: number, unit?: string) =>
  optionalNumber({ what, low, high, ...(unit === undefined ? {} : { unit }) }).pipe(
    z.number().int('Enter a whole number.').nullable(),
  );

/** The fields of one line, each named with the code of its lot. */
const fieldsOf = (code: string) => ({
  [`state_${code}`]: choice(['', ...CONDITION_STATES], 'Choose how it looked.'),
  [`pieces_${code}`]: whole('how many pieces were counted', 0, 100_000),
  [`size_${code}`]: optionalPieceSize(),
  [`note_${code}`]: optionalText(500),
});

/** The lines of a paper list, as they are typed in: one for each of these lots, and when it was written. */
export const typedLinesSchema = (codes: readonly string[], timeZone: string, now: Date) =>
  z
    .object({
      at: pastMoment(timeZone, now),
      ...Object.assign({}, ...codes.map(fieldsOf)),
    })
    .transform((typed, context) => {
      const { at, ...fields } = typed as { at: Date } & Record<string, unknown>;
      const lines = codes.map(
        (code): TypedLine => ({
          code,
          state: fields[`state_${code}`] as TypedLine['state'],
          pieces: fields[`pieces_${code}`] as number | null,
          sizeMm: fields[`size_${code}`] as number | null,
          note: fields[`note_${code}`] as string,
        }),
      );
      for (const { code, state, note } of lines)
        if (note !== '' && state === '')
          context.addIssue({
            code: 'custom',
            message: 'Choose how it looked, too.',
            path: [`state_${code}`],
          });
        else if (note === '' && state === 'other')
          context.addIssue({ code: 'custom', message: 'Say what was seen.', path: [`note_${code}`] });
      const written = lines.filter(
        ({ state, pieces, sizeMm }) => state !== '' || pieces !== null || sizeMm !== null,
      );
      if (written.length === 0)
        context.addIssue({ code: 'custom', message: 'Nothing is typed in yet.', path: [] });
      return { at, lines: written };
    });
