import { z } from 'zod';
import { optionalChosen, tick } from '../../platform/web/fields.ts';

/** Names of copies, one a line; own choice of how many. */
const names = z
  .string({ error: 'Write a name for each copy, one a line.' })
  .transform((typed) =>
    typed
      .split(/\r?\n|,/)
      .map((name) => name.trim())
      .filter((name) => name !== ''),
  )
  .pipe(
    z
      .array(z.string().max(40, { error: 'A name has at most 40 characters.' }))
      .min(1, { error: 'Write a name for each copy, one a line.' })
      .max(60, { error: 'Make at most 60 copies at a time.' })
      .refine((all) => new Set(all.map((name) => name.toLowerCase())).size === all.length, {
        error: 'Two copies have the same name. Change one of them.',
      }),
  );

export interface NamesInput {
  names: string[];
}

export const rackCopiesSchema = z.object({ names, tankId: optionalChosen(), sure: tick() });
export const tankCopiesSchema = z.object({ names, withRacks: tick() });
