import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import { choice, many } from '../../platform/web/fields.ts';
import { plural } from '../../platform/words/numbers.ts';

/** Which systems get a copy, and what becomes of what they have already. */
export const toSystemsSchema = z.object({
  systems: many().pipe(
    z
      .array(z.uuid({ error: 'Choose systems of the list.' }))
      .min(1, { error: 'Tick the systems that get it.' }),
  ),
  there: choice(['leave', 'replace'], 'Choose what becomes of what is there already.'),
});
export type ToSystems = z.output<typeof toSystemsSchema>;

/** What came of a copy to one system. */
export interface CopiedTo {
  system: string;
  copied: number;
  /** What was left alone, in words. */
  left: string[];
}

const one = (what: string) => what.replace(/s$/, '');

/** The same in one sentence a system. `what`: "targets". */
export const copiedWords = (all: readonly CopiedTo[], what: string): string =>
  all
    .map(
      ({ system, copied, left }) =>
        `${system}: ${plural(copied, one(what), `${one(what)}s`)} copied${left.length === 0 ? '' : `, left alone: ${left.join(', ')}`}.`,
    )
    .join(' ');

/** What was copied, where something was. @throws Refusal where all was there already and was left alone */
export function somethingCopied(done: CopiedTo[]): CopiedTo[] {
  if (done.some(({ copied }) => copied > 0)) return done;
  const left = [...new Set(done.flatMap((one) => one.left))].join(', ');
  throw new Refusal(
    `Nothing is copied: all of it was left alone${left === '' ? '' : ` (${left})`}. Choose to replace what is there, or tick other systems.`,
    {
      field: 'there',
    },
  );
}
