import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import { many, optionalText, text, tick, whole } from '../../platform/web/fields.ts';
import { lossCause } from '../losses/losses.schema.ts';
import { REASONS } from './counts.rules.ts';

/** A stocktake as a manager begins it; no rack ticked: all racks with lots. */
export const beginSchema = z.object({
  name: text('what is counted', 80),
  rackIds: many().pipe(z.array(z.uuid({ error: 'Choose racks from the list.' })).max(2000)),
  hidden: tick(),
  twoPeople: tick(),
});

export const routineSchema = z.object({
  everyDays: z.union([
    z
      .literal('')
      .nullish()
      .transform(() => null),
    whole({ what: 'how many days', low: 1, high: 3650, unit: 'days' }),
  ]),
});

/** A difference as it is settled. */
export const settleSchema = z.object({
  as: z.enum(REASONS, { error: 'Choose what it was.' }),
  cause: lossCause(),
  buyer: optionalText(200),
  note: optionalText(500),
  slot: optionalText(60),
  despite: optionalText(500),
  /** As the page said it: another one by now is looked at again. */
  difference: whole({ what: 'the difference', low: -100_000, high: 100_000 }),
});

export const nameSchema = z.object({ code: text('the code of the lot', 40) });
export const closeSchema = z.object({ note: optionalText(1000) });

/** Pieces of lots and what was found besides, as a rack's form brings them: `n_<lot>`, `found_1`, `foundPieces_1`. */
export interface RackCounts {
  lots: { lotId: string; pieces: number }[];
  found: { as: string; pieces: number }[];
}

const pieces = z
  .string()
  .trim()
  .regex(/^\d{1,6}$/);
const lotField = /^n_([0-9a-f]{8}-[0-9a-f-]{27})$/i;

/** Rows for what was found where the records have it not; more are taken by counting the rack again (own choice). */
export const FOUND_ROWS = [1, 2, 3] as const;

/**
 * What was counted on a rack. A field left empty is not counted.
 * @throws Refusal at the field that is no whole number, and where nothing was counted
 */
export function countsIn(fields: Record<string, unknown>): RackCounts {
  const numberAt = (name: string): number | null => {
    const typed = String(fields[name] ?? '').trim();
    if (typed === '') return null;
    const read = pieces.safeParse(typed);
    if (!read.success) throw new Refusal('Enter a whole number of pieces.', { field: name });
    return Number(read.data);
  };
  const lots = Object.keys(fields).flatMap((name) => {
    const lotId = lotField.exec(name)?.[1];
    const counted = lotId === undefined ? null : numberAt(name);
    return lotId === undefined || counted === null ? [] : [{ lotId, pieces: counted }];
  });
  const found = FOUND_ROWS.flatMap((row) => {
    const as = String(fields[`found_${row}`] ?? '').trim();
    const counted = numberAt(`foundPieces_${row}`);
    if (as === '' && counted === null) return [];
    if (as === '')
      throw new Refusal('Say which lot it is by its code, or what it looks like.', { field: `found_${row}` });
    if (as.length > 200) throw new Refusal('Say it in at most 200 letters.', { field: `found_${row}` });
    if (counted === null || counted === 0)
      throw new Refusal('Enter how many pieces you found.', { field: `foundPieces_${row}` });
    return [{ as, pieces: counted }];
  });
  if (lots.length + found.length === 0)
    throw new Refusal('Enter at least one number. A field left empty is not counted.');
  return { lots, found };
}
