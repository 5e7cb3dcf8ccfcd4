import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { lockLot, lotSubject, piecesAt } from '../base/lot-lock.ts';
import { passMoves, passPastStay } from '../pests/gate.ts';
import { lockSlots, type NamedSlot, placeWords } from '../places/slots.ts';
import type { DependsOnLot } from './dependents.ts';

/** A placement with the ones before and after it, and how much depends on it. */
export interface PastPlacement {
  id: string;
  lotId: string;
  code: string;
  rackId: string;
  rackName: string;
  cells: Cell[];
  slotIds: string[];
  fromAt: Date;
  /** Null while it is there. */
  toAt: Date | null;
  reason: string;
  /** The one before, and whether it ended when this one began. */
  before: { id: string; fromAt: Date; toAt: Date } | null;
  /** When the lot came: it was nowhere before. */
  cameAt: Date;
  /** Steps of acclimations done since it began. */
  steps: number;
}

const query = `
  SELECT placement.id, placement.lot_id AS "lotId", lot.code, rack.id AS "rackId", rack.name AS "rackName",
         json_agg(json_build_object('row', slot.row, 'column', slot."column")) AS cells, array_agg(slot.id) AS "slotIds",
         placement.from_at AS "fromAt", placement.to_at AS "toAt", placement.reason,
         (SELECT json_build_object('id', id, 'fromAt', from_at, 'toAt', to_at) FROM placement AS earlier
           WHERE earlier.lot_id = lot.id AND earlier.from_at < placement.from_at ORDER BY from_at DESC LIMIT 1) AS before,
         (SELECT min(at) FROM ledger_entry WHERE lot_id = lot.id AND voided_at IS NULL) AS "cameAt",
         (SELECT count(*) FROM acclimation_step AS step WHERE step.done_at >= placement.from_at
            AND step.acclimation_id IN (SELECT acclimation_id FROM acclimation_lot WHERE lot_id = lot.id))::int AS steps
    FROM placement JOIN lot ON lot.id = placement.lot_id
    JOIN placement_slot ON placement_id = placement.id JOIN slot ON slot.id = slot_id JOIN rack ON rack.id = slot.rack_id
   WHERE placement.id = $1::uuid GROUP BY placement.id, lot.id, rack.id`;

/** One query. @throws Refusal 404 */
export async function readPlacement(reader: SqlReader, id: string): Promise<PastPlacement> {
  const [row] = (await reader.query<PastPlacement>(query, [id])).rows;
  if (row === undefined) throw notFound('This placement');
  const { before } = row;
  if (before === null) return row;
  return { ...row, before: { ...before, fromAt: new Date(before.fromAt), toAt: new Date(before.toAt) } };
}

/** What depends on where it was, a sentence each; then it is changed only with a reason. */
export async function dependsOnPlacement(
  reader: SqlReader,
  { lotId, fromAt, steps }: PastPlacement,
  dependsOnLot: DependsOnLot,
): Promise<string[]> {
  const others = await dependsOnLot(reader, lotId, fromAt);
  if (steps === 0) return others;
  const done = steps === 1 ? 'One step of an acclimation was' : `${steps} steps of an acclimation were`;
  return [...others, `${done} done since. Look at the steps to come again.`];
}

const slotsQuery = `
  SELECT slot.id, chr(64 + slot.row) || slot."column" AS name, slot.id = ANY ($2::uuid[]) AS "isOwn"
    FROM slot JOIN rack ON rack.id = slot.rack_id
   WHERE slot.rack_id = $1::uuid AND slot.row <= rack.rows AND slot."column" <= rack.columns
     AND NOT EXISTS (SELECT FROM placement_slot AS other WHERE other.slot_id = slot.id AND other.placement_id <> $3::uuid
                       AND tstzrange(other.from_at, other.to_at) && tstzrange($4, $5))
   ORDER BY slot.row, slot."column"`;

/** The slots of a rack in which no other lot stood while this one stood where it is said to have stood. One query. */
export async function slotsFreeThen(
  reader: SqlReader,
  rackId: string,
  { id, slotIds, fromAt, toAt }: PastPlacement,
): Promise<{ id: string; name: string; isOwn: boolean }[]> {
  return (
    await reader.query<{ id: string; name: string; isOwn: boolean }>(slotsQuery, [
      rackId,
      slotIds,
      id,
      fromAt,
      toAt,
    ])
  ).rows;
}

/** What a placement should have been. */
export interface PlacementAmendment {
  at: Date;
  slotIds: readonly string[];
  reason: string;
}

/**
 * Corrects since when a lot stood somewhere, and where. The placement before it ends then.
 * @throws Refusal 404; 409 where another lot stood there; 422 without a reason, or at a time at which it cannot have been
 */
export async function amendPlacement(
  work: Work,
  id: string,
  { at, slotIds, reason }: PlacementAmendment,
  dependsOnLot: DependsOnLot,
): Promise<PastPlacement> {
  const sql = readerOf(work.tx);
  await lockLot(work.tx, (await readPlacement(sql, id)).lotId);
  const old = await readPlacement(sql, id);
  const slots = await lockSlots(work.tx, slotIds);
  if (reason === '' && (await dependsOnPlacement(sql, old, dependsOnLot)).length > 0)
    throw new Refusal('Other records depend on this. Say why it was wrong.', { field: 'reason' });
  await refuseTime(work, old, at);
  await refuseOccupied(work, slots, old, at);
  await passCorrection(work, old, { slotIds, at, reason });
  await movePlacement(work, old, at);
  await work.tx.placementSlot.deleteMany({ where: { placementId: id, slotId: { notIn: [...slotIds] } } });
  const data = slots.map((slot) => ({ placementId: id, slotId: slot.id }));
  await work.tx.placementSlot.createMany({ data, skipDuplicates: true });
  const { code, lotId, fromAt } = old;
  work.record('placement.corrected', lotSubject(lotId), {
    code,
    before: { place: placeWords(old.rackName, old.cells), since: fromAt },
    after: { place: placeWords(slots[0]?.rackName ?? '', slots), since: at },
    reason,
  });
  await touchPlaces(work, [...old.slotIds, ...slotIds]);
  return old;
}

/** Asks what a move there would have asked, so that no correction brings a lot into other water unasked. */
async function passCorrection(
  work: Work,
  { lotId, code, toAt }: Pick<PastPlacement, 'lotId' | 'code' | 'toAt'>,
  { slotIds, at, reason }: PlacementAmendment,
): Promise<void> {
  const said = { despite: reason, field: 'reason' };
  if (toAt === null) await passMoves(work, [{ lotId, code, slotIds }], { at, ...said });
  else await passPastStay(work, { lotId, code, slotIds, toAt }, said);
}

/** @throws Refusal 422 where it cannot have come there at that time */
async function refuseTime(work: Work, old: PastPlacement, at: Date): Promise<void> {
  const refused = (message: string) => new Refusal(message, { field: 'at' });
  if (old.toAt !== null && at >= old.toAt)
    throw refused('It had left there by then. Enter an earlier time, or take it back below.');
  if (old.before !== null && at <= old.before.fromAt)
    throw refused('It came to its place before only after that. Enter a later time, or correct that first.');
  if (at < old.cameAt || (await piecesAt(work.tx, old.lotId, at)) === 0)
    throw refused(`There were no pieces of ${old.code} yet at that time. Enter a later one.`);
}

/** @throws Refusal 409, naming the lot that stood there */
async function refuseOccupied(
  work: Work,
  slots: readonly NamedSlot[],
  old: { id: string; toAt: Date | null },
  at: Date,
): Promise<void> {
  const ids = slots.map((slot) => slot.id);
  const [other] = await work.tx.$queryRaw<{ slotId: string; code: string }[]>`
    SELECT slot_id AS "slotId", lot.code FROM placement_slot AS there
      JOIN placement ON placement.id = there.placement_id JOIN lot ON lot.id = placement.lot_id
     WHERE slot_id = ANY(${ids}::uuid[]) AND there.placement_id <> ${old.id}::uuid
       AND tstzrange(there.from_at, there.to_at) && tstzrange(${at}::timestamptz, ${old.toAt}::timestamptz)
     ORDER BY there.from_at LIMIT 1`;
  const slot = slots.find(({ id }) => id === other?.slotId);
  if (other === undefined || slot === undefined) return;
  throw new Refusal(
    `${placeWords(slot.rackName, [slot])} was taken by ${other.code} in that time. Choose another slot or time, or correct where that lot was first.`,
    { status: 409, field: 'slot' },
  );
}

/** The one that is made longer comes last, so that they never overlap. */
async function movePlacement(work: Work, old: PastPlacement, at: Date): Promise<void> {
  const { before, fromAt } = old;
  const follows = before !== null && (before.toAt >= at || before.toAt.getTime() === fromAt.getTime());
  const move = () => work.tx.placement.update({ where: { id: old.id }, data: { fromAt: at } });
  if (at >= fromAt) await move();
  if (before !== null && follows)
    await work.tx.placement.update({ where: { id: before.id }, data: { toAt: at } });
  if (at < fromAt) await move();
}

/**
 * Takes back a placement that never was: the lot stood where it stood before, all that time.
 * @throws Refusal 404; 409 where another lot stood there meanwhile
 */
export async function takeBackPlacement(work: Work, id: string, reason: string): Promise<PastPlacement> {
  const sql = readerOf(work.tx);
  await lockLot(work.tx, (await readPlacement(sql, id)).lotId);
  const old = await readPlacement(sql, id);
  const stays = old.before !== null && old.before.toAt.getTime() === old.fromAt.getTime() ? old.before : null;
  if (stays !== null) {
    const { slotIds } = await readPlacement(sql, stays.id);
    await passCorrection(work, old, { slotIds, at: old.fromAt, reason });
  }
  await work.tx.placementSlot.deleteMany({ where: { placementId: id } });
  await work.tx.placement.delete({ where: { id } });
  const place = stays === null ? '' : await growBack(work, stays.id, old);
  const { code, lotId, rackName, cells, fromAt } = old;
  work.record('placement.taken_back', lotSubject(lotId), {
    code,
    before: { place: placeWords(rackName, cells), since: fromAt },
    after: { place, since: stays?.fromAt ?? null },
    reason,
  });
  await touchPlaces(work, old.slotIds);
  return old;
}

/** The placement before lasts until the end of the one that is gone. @returns where that is */
async function growBack(work: Work, id: string, old: PastPlacement): Promise<string> {
  const earlier = await readPlacement(readerOf(work.tx), id);
  const slots = await lockSlots(work.tx, earlier.slotIds);
  await refuseOccupied(work, slots, { id, toAt: old.toAt }, old.fromAt);
  await work.tx.placement.update({ where: { id }, data: { toAt: old.toAt } });
  await touchPlaces(work, earlier.slotIds);
  return placeWords(earlier.rackName, earlier.cells);
}

async function touchPlaces(work: Work, slotIds: readonly string[]): Promise<void> {
  const rows = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT tank.system_id AS id FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
     WHERE slot.id = ANY(${[...slotIds]}::uuid[])`;
  for (const { id } of rows) work.reevaluate(id);
}
