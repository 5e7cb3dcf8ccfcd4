import { uuidv7 } from 'uuidv7';
import type { Rack as RackRow } from '../../generated/prisma/client.ts';
import type { Base } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { findTank } from '../tanks/tanks.ts';
import { noteFirstMountings, noteMountings } from './mounting.ts';
import type { RackEdit, RackInput } from './racks.schema.ts';
import { type Cell, cellsOf, isWithin, slotName } from './slots.rules.ts';

/** A shelf or a stretch of rockwork: a grid of slots at a depth. */
export interface Rack extends RackRow {
  tank: { id: string; name: string };
  system: { id: string; name: string };
  lamp: { id: string; name: string } | null;
}

const named = { select: { id: true, name: true } };

/** @throws Refusal 404 */
export async function findRack(db: Reader, id: string): Promise<Rack> {
  const include = { tank: { select: { id: true, name: true, system: named } }, lamp: named };
  const rack = await db.rack.findUnique({ where: { id }, include });
  if (rack === null) throw notFound('This rack');
  const { system, ...tank } = rack.tank;
  return { ...rack, tank, system };
}

async function refuseForeignLamp(work: Work, tankId: string, lampId: string | null): Promise<void> {
  if (lampId === null) return;
  const lamp = await work.tx.lamp.findFirst({ where: { id: lampId, tankId } });
  if (lamp === null)
    throw new Refusal('Those lamps do not hang above this tank. Choose one of the list.', {
      field: 'lampId',
    });
}

async function addSlots(work: Work, rackId: string, cells: readonly Cell[], base: Base): Promise<void> {
  const data = cells.map((cell) => ({ id: uuidv7(), rackId, ...cell, base }));
  await work.tx.slot.createMany({ data, skipDuplicates: true });
}

/** Adds a rack with all its slots. @throws Refusal 404, 422 */
export async function addRack(work: Work, tankId: string, input: RackInput): Promise<{ id: string }> {
  const tank = await findTank(work.tx, tankId);
  await refuseForeignLamp(work, tankId, input.lampId);
  const position = await work.tx.rack.count({ where: { tankId } });
  const { id } = await work.tx.rack.create({ data: { ...input, tankId, position } });
  await addSlots(work, id, cellsOf(input.rows, input.columns), input.base);
  await noteMountings(work, [id]);
  work.note('rack.created', { type: 'rack', id }, { tankId, ...input });
  work.touch(tank.systemId);
  return { id };
}

/**
 * Changes a rack. Made larger it gains slots; made smaller it keeps the history of those beyond its new edge, which
 * serve again should it grow. Hung otherwise (tank, depth, slope, place, lamps) it keeps how it hung until now, so that
 * the past keeps its light. A changed base holds for new slots; those there keep their own.
 * @throws Refusal 404, 409 on a stale edit or when lots stand where the rack would end, 422 to another water
 */
export async function editRack(work: Work, id: string, { version, ...wanted }: RackEdit): Promise<Rack> {
  const rack = await findRack(work.tx, id);
  const after = { ...wanted, tankId: wanted.tankId ?? rack.tankId };
  await refuseOtherWater(work, rack, after.tankId);
  await refuseForeignLamp(work, after.tankId, after.lampId);
  await refuseCutOff(work, id, after);
  await noteFirstMountings(work, [id]);
  const data = { ...after, version: { increment: 1 } };
  const changed = await work.tx.rack.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this rack');
  await addSlots(work, id, cellsOf(after.rows, after.columns), after.base);
  const hung = await noteMountings(work, [id]);
  work.note('rack.changed', { type: 'rack', id }, { before: saidOf(rack), after, hungOtherwise: hung > 0 });
  work.touch(rack.system.id);
  return rack;
}

function saidOf({ id, createdAt, position, version, tank, system, lamp, ...said }: Rack) {
  return said;
}

/** What a rack's lots lived in is read from the water they stand in: that must stay true of their past. */
async function refuseOtherWater(work: Work, rack: Rack, tankId: string): Promise<void> {
  const tank = await findTank(work.tx, tankId);
  if (tank.systemId === rack.system.id) return;
  throw new Refusal(
    `${tank.name} runs in another water. Add a rack there and move the lots to it; the water they lived in stays with this one.`,
    { field: 'tankId' },
  );
}

async function refuseCutOff(work: Work, rackId: string, grid: { rows: number; columns: number }) {
  const standing = await work.tx.$queryRaw<(Cell & { code: string })[]>`
    SELECT lot_place.row, lot_place."column", lot.code FROM lot_place JOIN lot ON lot.id = lot_place.lot_id
     WHERE rack_id = ${rackId}::uuid ORDER BY lot_place.row, lot_place."column"`;
  const cut = standing.filter((cell) => !isWithin(cell, grid));
  if (cut.length === 0) return;
  const named = cut.slice(0, 3).map((cell) => `${cell.code} in ${slotName(cell)}`);
  const more = cut.length > 3 ? ` and ${cut.length - 3} more` : '';
  throw new Refusal(
    `The rack would end before ${named.join(', ')}${more}. Move what stands there first, or keep those rows and columns.`,
    { status: 409, field: cut.some((cell) => cell.row > grid.rows) ? 'rows' : 'columns' },
  );
}
