import { uuidv7 } from 'uuidv7';
import type { Rack as RackRow } from '../../generated/prisma/client.ts';
import type { Base } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { refuseConcerns } from '../tanks/concerns.ts';
import { placeConcerns } from '../tanks/rack-places.rules.ts';
import { findTank, type Tank } from '../tanks/tanks.ts';
import { correctMounting, noteFirstMountings, noteMountings } from './mounting.ts';
import { numberedNames } from './names.rules.ts';
import type { RackEdit, RackInput } from './racks.schema.ts';
import { type Cell, cellsOf, isInGrid, slotName } from './slots.rules.ts';

/** A shelf or a stretch of rockwork: a grid of slots at a depth. */
export interface Rack extends RackRow {
  tank: { id: string; name: string };
  system: { id: string; name: string };
  lamp: { id: string; name: string } | null;
}

const named = { select: { id: true, name: true } } as const;

/** A tank's racks in their order, each with the lamps above it. */
export function racksOfTank(db: Reader, tankId: string) {
  return db.rack.findMany({
    where: { tankId },
    orderBy: [{ position: 'asc' }, { name: 'asc' }],
    select: { id: true, name: true, lamp: named },
  });
}

/** The lamps above a tank, by name; with `wholeSystem` those above the other tanks of its system too. */
export function listLampChoices(db: Reader, tank: { id: string; systemId: string }, wholeSystem: boolean) {
  return db.lamp.findMany({
    where: wholeSystem ? { tank: { systemId: tank.systemId } } : { tankId: tank.id },
    orderBy: { name: 'asc' },
    select: { id: true, name: true, tank: named },
  });
}

/** A cell that a lot takes. */
export interface OccupiedCell extends Cell {
  lotCode: string;
}

/**
 * The cells of a rack that are taken now, row by row. Lots belong to the stock, an area above this one, so callers
 * bring the answer.
 */
export type LotsOnRack = (tx: Tx, rackId: string) => Promise<OccupiedCell[]>;

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

/**
 * Adds racks with all their slots: one, or several alike that are named by number.
 * @returns their ids and names, in that order
 * @throws Refusal 404; 422 when one sticks out of its tank or overlaps another and nobody said that it is so
 */
export async function addRacks(
  work: Work,
  tankId: string,
  { count, sure, ...input }: RackInput,
): Promise<{ id: string; name: string }[]> {
  const tank = await findTank(work.tx, tankId);
  await refuseForeignLamp(work, tankId, input.lampId);
  const names = await freeNames(work, tankId, input, count);
  if (!sure) refuseConcerns(placeConcerns(input, tank, await othersInTank(work, tankId, null)));
  const position = await work.tx.rack.count({ where: { tankId } });
  const racks = names.map((name, i) => ({ ...input, id: uuidv7(), name, tankId, position: position + i }));
  await work.tx.rack.createMany({ data: racks });
  for (const { id } of racks) await addSlots(work, id, cellsOf(input.rows, input.columns), input.base);
  await noteMountings(
    work,
    racks.map(({ id }) => id),
  );
  for (const { id, name } of racks)
    work.record('rack.created', { type: 'rack', id }, { tankId, ...input, name });
  work.reevaluate(tank.systemId);
  return racks.map(({ id, name }) => ({ id, name }));
}

async function freeNames(
  work: Work,
  tankId: string,
  { name, leftMm }: RackEntry,
  count: number,
): Promise<string[]> {
  const names = numberedNames(name, count);
  if (names === null)
    throw new Refusal(
      'End the name with the number of the first rack, like R1: the others count on from it.',
      {
        field: 'name',
      },
    );
  if (count > 1 && leftMm !== null)
    throw new Refusal(
      'At one place they would lie on each other. Leave the place empty, and enter it on each rack.',
      {
        field: 'leftMm',
      },
    );
  const taken = await work.tx.rack.findFirst({
    where: { tankId, name: { in: names } },
    select: { name: true },
  });
  if (taken !== null && count > 1)
    throw new Refusal(`${taken.name} is in this tank already. Begin with a number after it.`, {
      field: 'name',
    });
  return names;
}

type RackEntry = Omit<RackInput, 'count' | 'sure'>;

/** The other racks of a tank, where they lie. */
const othersInTank = (work: Work, tankId: string, except: string | null) =>
  work.tx.rack.findMany({
    where: { tankId, ...(except === null ? {} : { NOT: { id: except } }) },
    orderBy: { position: 'asc' },
  });

/** What is odd about where a rack lies after a change, and was not before it. */
async function newConcerns(work: Work, rack: Rack, after: RackEntry & { tankId: string }): Promise<string[]> {
  const others = await othersInTank(work, after.tankId, rack.id);
  const [was, is] = [await findTank(work.tx, rack.tankId), await findTank(work.tx, after.tankId)];
  const before = rack.tankId === after.tankId ? placeConcerns(rack, was, others) : [];
  return placeConcerns(after, is, others).filter((concern) => !before.includes(concern));
}

/**
 * Changes a rack. A larger grid adds slots. A smaller grid keeps the slots beyond its edge with their history; they are
 * used again when the rack grows. When the tank, depth, slope, place or lamps change, the mounting until now is kept,
 * so that the light of the past stays as it was; with `always` the entry was wrong, and the mounting is corrected since it
 * began. A new base holds for new slots only.
 * @throws Refusal 404, 409 on a stale edit or when lots stand outside the new grid, 422 to a tank of another system
 */
export async function editRack(
  work: Work,
  id: string,
  { version, sure, always, ...wanted }: RackEdit,
  lotsOnRack: LotsOnRack,
): Promise<Rack> {
  const rack = await findRack(work.tx, id);
  const after = { ...wanted, tankId: wanted.tankId ?? rack.tankId };
  const tank = await findTank(work.tx, after.tankId);
  await refuseOtherWater(work, rack, tank);
  await refuseForeignLamp(work, after.tankId, after.lampId);
  refuseCutOff(await lotsOnRack(work.tx, id), after);
  if (!sure) refuseConcerns(await newConcerns(work, rack, after));
  if (!always) await noteFirstMountings(work, [id]);
  const data = { ...after, version: { increment: 1 } };
  const changed = await work.tx.rack.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this rack');
  await addSlots(work, id, cellsOf(after.rows, after.columns), after.base);
  const remounted = always ? 0 : await noteMountings(work, [id]);
  if (always) await correctMounting(work, id);
  const change = { before: enteredOf(rack), after, hungOtherwise: remounted > 0, enteredWrong: always };
  work.record('rack.changed', { type: 'rack', id }, change);
  work.reevaluate(rack.system.id);
  if (tank.systemId !== rack.system.id) work.reevaluate(tank.systemId);
  return rack;
}

/** What people entered of a rack. */
function enteredOf({ id, createdAt, position, version, tank, system, lamp, ...entered }: Rack) {
  return entered;
}

/** The water of a lot's past is read through its rack, so a rack on which anything ever stood stays in its system. */
async function refuseOtherWater(work: Work, rack: Rack, tank: Tank): Promise<void> {
  if (tank.systemId === rack.system.id || !(await isUsed(readerOf(work.tx), rack.id))) return;
  throw new Refusal(
    `${tank.name} runs in another water. Add a rack there and move the lots to it; the water they lived in stays with this one.`,
    { field: 'tankId' },
  );
}

/** Whether anything names a rack or one of its slots, as the database tells it. One query. */
export async function isUsed(reader: SqlReader, rackId: string): Promise<boolean> {
  const { rows } = await reader.query(
    `SELECT noun FROM what_rests_on('rack', $1::uuid, ARRAY['slot', 'rack_stand']) LIMIT 1`,
    [rackId],
  );
  return rows.length > 0;
}

/** Refuses a grid that would leave lots outside it. */
function refuseCutOff(occupied: readonly OccupiedCell[], grid: { rows: number; columns: number }): void {
  const outside = occupied.filter((cell) => !isInGrid(cell, grid));
  if (outside.length === 0) return;
  const named = outside.slice(0, 3).map((cell) => `${cell.lotCode} in ${slotName(cell)}`);
  const more = outside.length > 3 ? ` and ${outside.length - 3} more` : '';
  throw new Refusal(
    `The rack would end before ${named.join(', ')}${more}. Move the lots there first, or keep those rows and columns.`,
    { status: 409, field: outside.some((cell) => cell.row > grid.rows) ? 'rows' : 'columns' },
  );
}
