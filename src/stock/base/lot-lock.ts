import type { Lot } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
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
export async function piecesAt(tx: Tx, lotId: string, at: Date): Promise<number> {
  const { _sum } = await tx.ledgerEntry.aggregate({
    where: { lotId, at: { lte: at } },
    _sum: { change: true },
  });
  return _sum.change ?? 0;
}

/** Marks the system in which the lot stands, if any, for an evaluation of its rules. */
export async function touchSystemOf(work: Work, lotId: string): Promise<void> {
  const places = await work.tx.$queryRaw<{ system: string }[]>`
    SELECT DISTINCT system_id AS system FROM lot_place WHERE lot_id = ${lotId}::uuid`;
  for (const { system } of places) work.reevaluate(system);
}

/** The lot as a journal line names it. */
export const lotSubject = (id: string) => ({ type: 'lot' as const, id });
