import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { racksOfTank } from '../racks/racks.ts';
import type { LampsEachInput } from './lamps.schema.ts';
import { addLamp } from './lamps.ts';

/**
 * Hangs one lamp above each of some racks, all alike, named after their racks. A rack that had other lamps is lit by its
 * own from now on.
 * @throws Refusal 404; 422 when one of the racks stands elsewhere, or has a lamp of that name
 */
export async function addLampEach(
  work: Work,
  tankId: string,
  { racks, ...lamp }: LampsEachInput,
): Promise<{ names: string[] }> {
  const own = (await racksOfTank(work.tx, tankId)).filter(({ id }) => racks.includes(id));
  if (own.length < new Set(racks).size)
    throw new Refusal('One of the racks is not in this tank. Choose again.', { field: 'racks' });
  const names = own.map(({ name }) => `Lamp of ${name}`.slice(0, 40));
  const taken = await work.tx.lamp.findFirst({
    where: { tankId, name: { in: names } },
    select: { name: true },
  });
  if (taken !== null)
    throw new Refusal(`${taken.name} hangs there already. Leave its rack out, or rename that lamp.`, {
      field: 'racks',
    });
  for (const [i, rack] of own.entries())
    await addLamp(work, tankId, { ...lamp, name: names[i] as string, racks: [rack.id] });
  return { names };
}
