import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { piecesOfLots } from '../../stock/base/lot-lock.ts';
import { noteConditions } from '../../stock/lots/conditions.ts';
import { setFigures } from '../../stock/lots/figures.ts';
import { countLots } from '../../stock/lots/ledger.ts';
import { lockLots, tickedLots } from '../../stock/lots/ticked-lots.ts';
import type { TypedLine } from './typed-lines.schema.ts';

/**
 * Enters what was written on a paper list: looks, counts and sizes of lots, all in one change and a fixed number of queries.
 * @param at when it was written
 * @returns how many lots something was entered for
 * @throws Refusal 409 when a lot is not there any more
 */
export async function enterLines(
  work: Work,
  siteId: string,
  { at, lines }: { at: Date; lines: readonly TypedLine[] },
): Promise<{ count: number }> {
  const codes = lines.map(({ code }) => code);
  await lockLots(work.tx, siteId, codes);
  const reader = readerOf(work.tx);
  const lots = new Map((await tickedLots(reader, siteId, codes)).map((lot) => [lot.code, lot]));
  const known = lines.flatMap((line) => {
    const lot = lots.get(line.code);
    return lot === undefined ? [] : [{ line, lot }];
  });
  if (known.length < lines.length)
    throw new Refusal('A lot of this list is not here any more. Make the list again.', { status: 409 });
  const sized = known.filter(({ line, lot }) => line.sizeMm !== null && line.sizeMm !== lot.sizeMm);
  await setFigures(
    work,
    sized.map(({ line: { sizeMm }, lot: { id, code, sizeMm: before, priceMinor } }) => ({
      ...{ id, code, before: { sizeMm: before, priceMinor }, after: { sizeMm } },
    })),
  );
  const seen = known.flatMap(({ line: { state, note }, lot: { id, code } }) =>
    state === '' ? [] : [{ lotId: id, code, state, grade: null, note, at }],
  );
  if (seen.length > 0) await noteConditions(work, seen);
  await recount(work, known, at);
  for (const { lot } of known)
    work.record('lot.typed_in', { type: 'lot', id: lot.id }, { code: lot.code, at });
  return { count: known.length };
}

/** Enters the counts that differ from the ledger's at that time. */
async function recount(
  work: Work,
  known: readonly { line: TypedLine; lot: { id: string; code: string; pieces: number } }[],
  at: Date,
): Promise<void> {
  const counted = known.filter(({ line }) => line.pieces !== null);
  const there = await piecesOfLots(
    readerOf(work.tx),
    counted.map(({ lot }) => lot.id),
    at,
  );
  const counts = counted.map(({ line, lot }) => {
    const change = (line.pieces ?? 0) - (there.get(lot.id) ?? 0);
    return { lotId: lot.id, code: lot.code, change, left: lot.pieces + change };
  });
  const changed = counts.filter(({ change }) => change !== 0);
  await countLots(work, changed, { reason: 'recount', at, note: 'Counted on paper' });
}
