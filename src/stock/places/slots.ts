import { type Cell, slotName } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';

/** A slot with the names people know it by. */
export interface NamedSlot extends Cell {
  id: string;
  rackId: string;
  rackName: string;
  tankName: string;
  systemId: string;
}

/** "A3", "A3 to A6", "A3 to A6, B1": the cells of one rack in words, neighbours in a row written as one run. */
export function cellWords(cells: readonly Cell[]): string {
  const sorted = [...cells].sort((a, b) => a.row - b.row || a.column - b.column);
  const runs: [Cell, Cell][] = [];
  for (const cell of sorted) {
    const run = runs.at(-1);
    if (run !== undefined && run[1].row === cell.row && run[1].column === cell.column - 1) run[1] = cell;
    else runs.push([cell, cell]);
  }
  return runs
    .map(([first, last]) => (first === last ? slotName(first) : `${slotName(first)} to ${slotName(last)}`))
    .join(', ');
}

/** "Rack S2, A3 to A6". */
export function placeWords(rackName: string, cells: readonly Cell[]): string {
  return `${rackName}, ${cellWords(cells)}`;
}

/**
 * The slots with their names, locked until the change is done. They are locked in the order of their ids, so that two
 * moves never wait for each other in a deadlock.
 * @throws Refusal when one is unknown, or they are not all on one rack
 */
export async function lockSlots(tx: Tx, ids: readonly string[]): Promise<NamedSlot[]> {
  const slots = await tx.$queryRaw<NamedSlot[]>`
    SELECT slot.id, slot.row, slot."column", rack.id AS "rackId", rack.name AS "rackName",
           tank.name AS "tankName", tank.system_id AS "systemId"
      FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
     WHERE slot.id = ANY(${ids}::uuid[]) ORDER BY slot.id FOR NO KEY UPDATE OF slot`;
  if (slots.length < new Set(ids).size) {
    throw new Refusal('There is no such slot. Choose one on the rack.', { field: 'slot' });
  }
  if (new Set(slots.map((slot) => slot.rackId)).size > 1) {
    throw new Refusal('A lot has slots on one rack only. Choose slots of one rack, or split the lot.', {
      field: 'slot',
    });
  }
  return slots;
}

/**
 * Keeps the systems of these slots in service until the change is done: whoever takes one out of service waits, and then
 * sees the lot that came.
 * @throws Refusal when one is out of service
 */
export async function refuseRetired(tx: Tx, slotIds: readonly string[]): Promise<void> {
  if (slotIds.length === 0) return;
  const systems = await tx.$queryRaw<{ name: string; retired: boolean }[]>`
    SELECT name, retired_at IS NOT NULL AS retired FROM system
     WHERE id IN (SELECT tank.system_id FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
                   WHERE slot.id = ANY(${[...slotIds]}::uuid[])) ORDER BY id FOR KEY SHARE`;
  const retired = systems.find((system) => system.retired);
  if (retired === undefined) return;
  throw new Refusal(`${retired.name} is out of service. Choose a slot of another system.`, {
    status: 409,
    field: 'slot',
  });
}

/** @throws Refusal when another lot stood in one of the slots at that time; it names that lot */
export async function refuseTaken(
  tx: Tx,
  slots: readonly NamedSlot[],
  lotId: string,
  at: Date,
): Promise<void> {
  const occupants = await tx.$queryRaw<{ slotId: string; code: string; kind: string; gone: boolean }[]>`
    SELECT placement_slot.slot_id AS "slotId", lot.code, kind.name AS kind, placement.to_at IS NOT NULL AS gone
      FROM placement_slot
      JOIN placement ON placement.id = placement_slot.placement_id
      JOIN lot ON lot.id = placement.lot_id
      JOIN kind ON kind.id = lot.kind_id
     WHERE placement_slot.slot_id = ANY(${slots.map((slot) => slot.id)}::uuid[])
       AND placement.lot_id <> ${lotId}::uuid AND (placement.to_at IS NULL OR placement.to_at > ${at})
     ORDER BY placement.from_at DESC LIMIT 1`;
  const [other] = occupants;
  if (other === undefined) return;
  const slot = slots.find(({ id }) => id === other.slotId);
  const place = slot === undefined ? 'The slot' : placeWords(slot.rackName, [slot]);
  throw new Refusal(
    other.gone
      ? `${place} was still taken by ${other.code} (${other.kind}) at that time. Enter a later time, or choose another slot.`
      : `${place} is taken by ${other.code} (${other.kind}). Choose a free slot, or move that lot first.`,
    { status: 409, field: 'slot' },
  );
}

/** Slots of one rack in words: "Rack S2, A3 and A4"; "" for none. */
export async function placeOfSlots(db: Reader, ids: readonly string[]): Promise<string> {
  const slots = await db.slot.findMany({ where: { id: { in: [...ids] } }, include: { rack: true } });
  return slots[0] === undefined ? '' : placeWords(slots[0].rack.name, slots);
}

/** Every cell of the racks that have one of these slots. One query. */
export async function cellsOfRacks(
  reader: SqlReader,
  slotIds: readonly string[],
): Promise<(Cell & { id: string; rackId: string; rackName: string })[]> {
  const { rows } = await reader.query<Cell & { id: string; rackId: string; rackName: string }>(
    `SELECT slot.id, slot.rack_id AS "rackId", rack.name AS "rackName", slot.row, slot."column" FROM slot JOIN rack ON rack.id = slot.rack_id
      WHERE slot.rack_id IN (SELECT rack_id FROM slot WHERE id = ANY($1::uuid[]))
        AND slot.row <= rack.rows AND slot."column" <= rack.columns`,
    [[...slotIds]],
  );
  return rows;
}

/** Slots as signs name them. */
export interface SignedSlot extends NamedSlot {
  /** "A3" */
  name: string;
}

/** Every slot of some racks that lies within its rack, rack by rack in reading order. One query. */
export async function slotsOfRacks(reader: SqlReader, rackIds: readonly string[]): Promise<SignedSlot[]> {
  const { rows } = await reader.query<NamedSlot>(
    `SELECT slot.id, slot.row, slot."column", rack.id AS "rackId", rack.name AS "rackName", tank.name AS "tankName", tank.system_id AS "systemId"
       FROM unnest($1::uuid[]) WITH ORDINALITY AS asked (id, position)
       JOIN rack ON rack.id = asked.id JOIN tank ON tank.id = rack.tank_id
       JOIN slot ON slot.rack_id = rack.id AND slot.row <= rack.rows AND slot."column" <= rack.columns
      ORDER BY asked.position, slot.row, slot."column"`,
    [[...rackIds]],
  );
  return rows.map((slot) => ({ ...slot, name: slotName(slot) }));
}

/** The code of the lot that stands in a slot; null where it is free. @throws Refusal 404 */
export async function lotInSlot(db: Reader, id: string): Promise<string | null> {
  const where = { toAt: null };
  const include = {
    placements: { where, include: { placement: { include: { lot: { select: { code: true } } } } } },
  };
  const slot = await db.slot.findUnique({ where: { id }, include });
  if (slot === null) throw notFound('This slot');
  return slot.placements[0]?.placement.lot.code ?? null;
}
