import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { findTank } from '../tanks/tanks.ts';
import { type FlowChoice, flowOf } from './flow.rules.ts';

/** What a flow of whole racks writes over: the tank's racks, each with its version. */
export const flowStanding = (tankId: string): Standing => ({
  what: 'racks of this tank',
  read: ({ rack }) =>
    rack.findMany({ where: { tankId }, select: { id: true, version: true }, orderBy: { id: 'asc' } }),
});

/** Sets how water moves on whole racks of a tank. @throws Refusal 404; 422 when one of the racks stands elsewhere */
export async function setFlowOfRacks(
  work: Work,
  tankId: string,
  { racks, flow: choice }: { racks: readonly string[]; flow: FlowChoice },
): Promise<{ racks: number }> {
  const tank = await findTank(work.tx, tankId);
  const own = { id: { in: [...racks] }, tankId };
  const { count } = await work.tx.rack.updateMany({ where: own, data: { version: { increment: 1 } } });
  if (count < new Set(racks).size)
    throw new Refusal('One of the racks is not in this tank. Choose again.', { field: 'racks' });
  const { flow, jet } = flowOf(choice);
  for (const id of new Set(racks)) {
    const { count: slots } = await work.tx.slot.updateMany({ where: { rackId: id }, data: { flow, jet } });
    work.record('slot_flow.changed', { type: 'rack', id }, { slots, flow: choice });
  }
  work.reevaluate(tank.systemId);
  return { racks: count };
}

/** The racks of a tank of which no slot’s flow is known. */
export async function racksWithoutFlow(db: Reader, tankId: string): Promise<string[]> {
  const where = { tankId, slots: { every: { flow: null } } };
  return (await db.rack.findMany({ where, select: { id: true } })).map(({ id }) => id);
}
