import type { Lot } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lockLot, lotSubject, touchSystemOf } from '../base/lot-lock.ts';
import type { DependsOnLot } from './dependents.ts';

/** What limits a lot's date of arrival, and how much depends on it. */
export interface Arrival {
  /** The line of the ledger with which it came; null for a lot that was cut or split off here. */
  ledgerId: string | null;
  /** The first thing noted of it that did not come with its arrival. */
  first: { what: string; at: Date } | null;
  /** The placement that began with its arrival, and moves with it. */
  placementId: string | null;
  /** Lots split off it, which have its date. */
  split: string[];
  acclimations: number;
}

const query = `
  WITH RECURSIVE split AS (
    SELECT lot.id, lot.arrived_at FROM lot WHERE lot.id = $1::uuid
    UNION SELECT lot.id, lot.arrived_at FROM lot JOIN split ON lot.parent_id = split.id AND lot.arrived_at = split.arrived_at
     WHERE NOT EXISTS (SELECT FROM cut WHERE into_lot_id = lot.id)),
  came AS (SELECT id, at FROM ledger_entry WHERE lot_id = $1::uuid AND voided_at IS NULL ORDER BY at, id LIMIT 1),
  noted AS (
    SELECT 'It was placed' AS what, from_at AS at FROM placement, lot WHERE lot_id = $1::uuid AND lot.id = $1::uuid AND from_at <> arrived_at
    UNION ALL SELECT 'Its condition was noted', at FROM condition WHERE lot_id = $1::uuid AND voided_at IS NULL
    UNION ALL SELECT 'Its count changed', at FROM ledger_entry WHERE lot_id = $1::uuid AND voided_at IS NULL AND id NOT IN (SELECT id FROM came)
    UNION ALL SELECT 'A photo was taken', taken_at FROM photo WHERE lot_id = $1::uuid AND voided_at IS NULL)
  SELECT (SELECT line.id FROM came JOIN ledger_entry AS line USING (id) WHERE line.reason = 'received') AS "ledgerId",
         (SELECT json_build_object('what', what, 'at', at) FROM noted ORDER BY at LIMIT 1) AS first,
         (SELECT placement.id FROM placement JOIN lot ON lot.id = lot_id
           WHERE lot_id = $1::uuid AND from_at = arrived_at) AS "placementId",
         ARRAY(SELECT id FROM split WHERE id <> $1::uuid) AS split,
         (SELECT count(*) FROM acclimation_lot WHERE lot_id = $1::uuid)::int AS acclimations`;

/** One query. */
export async function readArrival(reader: SqlReader, lotId: string): Promise<Arrival> {
  const [row] = (await reader.query<Arrival>(query, [lotId])).rows;
  if (row === undefined) throw new Error('no row of a lot’s arrival');
  return row.first === null ? row : { ...row, first: { ...row.first, at: new Date(row.first.at) } };
}

/** What depends on the date, a sentence each; then it is changed only with a reason. */
export async function dependsOnArrival(
  reader: SqlReader,
  lotId: string,
  { acclimations }: Arrival,
  dependsOnLot: DependsOnLot,
): Promise<string[]> {
  const others = await dependsOnLot(reader, lotId, new Date(0));
  const planned = 'It is or was in an acclimation, which was planned by the date before.';
  return acclimations === 0 ? others : [...others, planned];
}

/**
 * Corrects when a lot came: with it go the line of its ledger, the placement that began with it, and lots split off it.
 * @throws Refusal 404; 409 for a lot that was made here; 422 without a reason, or after what was noted of it
 */
export async function correctArrival(
  work: Work,
  lotId: string,
  { at, reason }: { at: Date; reason: string },
  dependsOnLot: DependsOnLot,
): Promise<Lot> {
  const sql = readerOf(work.tx);
  const lot = await lockLot(work.tx, lotId);
  const arrival = await readArrival(sql, lotId);
  if (arrival.ledgerId === null)
    throw new Refusal(`${lot.code} was made here from another lot and has the date of the cut or split.`, {
      status: 409,
    });
  if (arrival.first !== null && at > arrival.first.at)
    throw new Refusal(`${arrival.first.what} before that. Enter an earlier date, or correct that first.`, {
      field: 'at',
    });
  if (reason === '' && (await dependsOnArrival(sql, lotId, arrival, dependsOnLot)).length > 0)
    throw new Refusal('Other records depend on the date. Say why it was wrong.', { field: 'reason' });
  await work.tx.ledgerEntry.update({ where: { id: arrival.ledgerId }, data: { at } });
  await moveFirstPlacement(work, arrival.placementId, at, lot.arrivedAt);
  const where = { id: { in: [lotId, ...arrival.split] } };
  await work.tx.lot.updateMany({ where, data: { arrivedAt: at, version: { increment: 1 } } });
  work.record('lot.arrival_corrected', lotSubject(lotId), {
    code: lot.code,
    before: { received: lot.arrivedAt },
    after: { received: at },
    reason,
  });
  await touchSystemOf(work, lotId);
  return lot;
}

/** Where another lot stood in its slots by then, it stays as it was: where this one stood before is not known. */
async function moveFirstPlacement(work: Work, id: string | null, at: Date, was: Date): Promise<void> {
  if (id === null) return;
  const [taken] = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT other.placement_id AS id FROM placement_slot AS own JOIN placement_slot AS other ON other.slot_id = own.slot_id
     WHERE own.placement_id = ${id}::uuid AND other.placement_id <> own.placement_id
       AND other.from_at < ${was} AND coalesce(other.to_at, 'infinity') > ${at} LIMIT 1`;
  if (taken === undefined) await work.tx.placement.update({ where: { id }, data: { fromAt: at } });
}
