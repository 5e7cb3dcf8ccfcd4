import type { Lot } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Tx } from '../../platform/service.ts';

/** The lot, locked until the change is done, so that two people's changes to it follow each other. @throws Refusal 404 */
export async function lockLot(tx: Tx, id: string): Promise<Lot> {
  await tx.$queryRaw`SELECT id FROM lot WHERE id = ${id}::uuid FOR UPDATE`;
  const lot = await tx.lot.findUnique({ where: { id } });
  if (lot === null) throw notFound('This lot');
  return lot;
}

/** How many pieces there were at a moment by the ledger, lines of that moment included. */
export const piecesAt = async (tx: Tx, lotId: string, at: Date): Promise<number> =>
  (await piecesOfLots(readerOf(tx), [lotId], at)).get(lotId) ?? 0;

/** The same of several lots. One query. */
export async function piecesOfLots(
  reader: SqlReader,
  lotIds: readonly string[],
  at: Date,
): Promise<ReadonlyMap<string, number>> {
  const { rows } = await reader.query<{ id: string; pieces: number }>(
    `SELECT lot_id AS id, sum(change)::int AS pieces FROM ledger_entry
      WHERE lot_id = ANY($1::uuid[]) AND at <= $2::timestamptz AND voided_at IS NULL GROUP BY lot_id`,
    [[...lotIds], at],
  );
  return new Map(rows.map(({ id, pieces }) => [id, pieces]));
}

/** Marks the system in which the lot stands, if any, for an evaluation of its rules. */
export const touchSystemOf = (work: Work, lotId: string): Promise<void> => touchSystemsOf(work, [lotId]);

/** Marks the systems in which lots stand for an evaluation of their rules. One query. */
export async function touchSystemsOf(work: Work, lotIds: readonly string[]): Promise<void> {
  const places = await work.tx.$queryRaw<{ system: string }[]>`
    SELECT DISTINCT system_id AS system FROM lot_place WHERE lot_id = ANY(${[...lotIds]}::uuid[])`;
  for (const { system } of places) work.reevaluate(system);
}

/** The lot as a journal line names it. */
export const lotSubject = (id: string) => ({ type: 'lot' as const, id });
