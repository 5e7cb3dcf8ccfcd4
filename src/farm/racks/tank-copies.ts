import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { addTank, findTank } from '../tanks/tanks.ts';
import type { NamesInput } from './copies.schema.ts';
import { writeRackCopies } from './rack-copies.ts';

/**
 * Makes copies of a tank in its own water; with its racks where that is wanted, each with its slots and their flow. Not its
 * lamps: they are others.
 * @throws Refusal 404; 422 a name that is there already
 */
export async function copyTank(
  work: Work,
  id: string,
  { names, withRacks }: NamesInput & { withRacks: boolean },
): Promise<{ tanks: { id: string; name: string }[]; racks: number }> {
  const tank = await findTank(work.tx, id);
  const { systemId, lengthMm, widthMm, heightMm, quarantine, ownWater, note } = tank;
  const taken = await work.tx.tank.findFirst({
    where: { systemId, name: { in: names } },
    select: { name: true },
  });
  if (taken !== null)
    throw new Refusal(`${taken.name} is in this system already. Choose another name.`, { field: 'names' });
  const racks = withRacks
    ? await work.tx.rack.findMany({ where: { tankId: id }, orderBy: { position: 'asc' } })
    : [];
  const tanks: { id: string; name: string }[] = [];
  for (const name of names) {
    const size = { lengthMm, widthMm, heightMm };
    const copy = await addTank(work, systemId, { name, ...size, quarantine, ownWater, note });
    for (const rack of racks) await writeRackCopies(work, rack, copy.id, [rack.name]);
    tanks.push({ ...copy, name });
  }
  return { tanks, racks: racks.length * tanks.length };
}
