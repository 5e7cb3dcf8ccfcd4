import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { refuseConcerns } from '../tanks/concerns.ts';
import { placeConcerns } from '../tanks/rack-places.rules.ts';
import { findTank } from '../tanks/tanks.ts';
import type { NamesInput } from './copies.schema.ts';
import { noteMountings } from './mounting.ts';
import { findRack, type Rack } from './racks.ts';

/** A rack to be copied: the names of the copies, and the tank they stand in; its own where that is null. */
export interface RackCopies extends NamesInput {
  tankId: string | null;
  /** Ticked that they are right, though they do not fit into that tank. */
  sure: boolean;
}

/**
 * Makes copies of a rack: grid, depth, slope, size, base, and the flow of each slot. Not its lots, its light and its place:
 * two racks cannot lie at one place. The lamps come along within the same tank.
 * @throws Refusal 404; 422 a name that is there already, a tank of another system, or one that it sticks out of and `sure` is not ticked
 */
export async function copyRack(
  work: Work,
  id: string,
  { names, tankId, sure }: RackCopies,
): Promise<{ id: string; name: string }[]> {
  const rack = await findRack(work.tx, id);
  const tank = await findTank(work.tx, tankId ?? rack.tankId);
  if (tank.systemId !== rack.system.id)
    throw new Refusal('Choose a tank of the same system.', { field: 'tankId' });
  if (!sure && tank.id !== rack.tankId)
    refuseConcerns(placeConcerns({ ...rack, leftMm: null, backMm: null }, tank, []));
  const copies = await writeRackCopies(work, rack, tank.id, names);
  work.reevaluate(tank.systemId);
  return copies;
}

/** Writes copies of a rack into a tank. @throws Refusal naming a name that is there already */
export async function writeRackCopies(
  work: Work,
  rack: Omit<Rack, 'tank' | 'system' | 'lamp'>,
  tankId: string,
  names: readonly string[],
): Promise<{ id: string; name: string }[]> {
  const taken = await work.tx.rack.findFirst({
    where: { tankId, name: { in: [...names] } },
    select: { name: true },
  });
  if (taken !== null)
    throw new Refusal(`${taken.name} is in this tank already. Choose another name.`, { field: 'names' });
  const { rows, columns, depthMm, slotWidthMm, slotDepthMm, slopeDeg, base, note } = rack;
  const lampId = tankId === rack.tankId ? rack.lampId : null;
  const position = await work.tx.rack.count({ where: { tankId } });
  const like = { rows, columns, depthMm, slotWidthMm, slotDepthMm, slopeDeg, base, note, lampId, tankId };
  const copies = names.map((name, i) => ({ id: uuidv7(), name, position: position + i }));
  await work.tx.rack.createMany({ data: copies.map((copy) => ({ ...like, ...copy, createdAt: work.now })) });
  const ids = copies.map(({ id }) => id);
  await work.tx.$executeRaw`
    INSERT INTO slot (id, rack_id, "row", "column", flow, jet, base)
    SELECT gen_random_uuid(), copy.id, slot."row", slot."column", slot.flow, slot.jet, slot.base
      FROM slot CROSS JOIN unnest(${ids}::uuid[]) AS copy(id)
     WHERE slot.rack_id = ${rack.id}::uuid AND slot."row" <= ${rows} AND slot."column" <= ${columns}`;
  await noteMountings(work, ids);
  for (const { id, name } of copies)
    work.record('rack.created', { type: 'rack', id }, { ...like, name, copyOf: rack.name });
  return copies;
}
