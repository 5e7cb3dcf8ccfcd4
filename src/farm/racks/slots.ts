import type { Base } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { type FlowChoice, flowOf, type SlotFlow } from './flow.rules.ts';
import { findRack, type Rack } from './racks.ts';
import type { RackSlot } from './slots.rules.ts';
import type { SlotValue } from './slots.schema.ts';

/** The slots within a rack's rows and columns with their flow and base, row by row. */
export async function slotsOfRack(
  db: Reader,
  rack: Pick<Rack, 'id' | 'rows' | 'columns'>,
): Promise<(RackSlot & SlotFlow & { base: Base })[]> {
  const slots = await db.slot.findMany({
    where: { rackId: rack.id, row: { lte: rack.rows }, column: { lte: rack.columns } },
    orderBy: [{ row: 'asc' }, { column: 'asc' }],
    select: { id: true, row: true, column: true, flow: true, jet: true, base: true },
  });
  return slots.map(({ id, ...slot }) => ({ slotId: id, ...slot }));
}

/** New values for slots of a rack, entered when the rack had this version. */
interface SlotEdit<V> {
  version: number;
  slots: readonly SlotValue<V>[];
}

/** The rack, with its version raised. @throws Refusal 404, 409 on a stale edit */
async function bumpRack(work: Work, rackId: string, version: number): Promise<Rack> {
  const rack = await findRack(work.tx, rackId);
  const changed = await work.tx.rack.updateMany({
    where: { id: rackId, version },
    data: { version: { increment: 1 } },
  });
  if (changed.count === 0) throw staleEdit('the slots of this rack');
  return rack;
}

/** Sets how water moves at the slots of a rack. @throws Refusal 404, 409 on a stale edit */
export async function setFlow(
  work: Work,
  rackId: string,
  { version, slots }: SlotEdit<FlowChoice>,
): Promise<void> {
  const rack = await bumpRack(work, rackId, version);
  const flows = slots.map(({ value }) => flowOf(value));
  const changed = await work.tx.$executeRaw`
    UPDATE slot SET flow = wanted.flow::"Flow", jet = wanted.jet
      FROM unnest(${slots.map((slot) => slot.slotId)}::uuid[], ${flows.map(({ flow }) => flow)}::text[],
                  ${flows.map(({ jet }) => jet)}::boolean[]) AS wanted (id, flow, jet)
     WHERE slot.id = wanted.id AND slot.rack_id = ${rackId}::uuid
       AND (slot.flow, slot.jet) IS DISTINCT FROM (wanted.flow::"Flow", wanted.jet)`;
  work.record('slot_flow.changed', { type: 'rack', id: rackId }, { slots: changed });
  work.reevaluate(rack.system.id);
}

/** Sets what pieces stand on at the slots of a rack. @throws Refusal 404, 409 on a stale edit */
export async function setBase(work: Work, rackId: string, { version, slots }: SlotEdit<Base>): Promise<void> {
  const rack = await bumpRack(work, rackId, version);
  const changed = await work.tx.$executeRaw`
    UPDATE slot SET base = wanted.base::"Base"
      FROM unnest(${slots.map((slot) => slot.slotId)}::uuid[], ${slots.map(({ value }) => value)}::text[]) AS wanted (id, base)
     WHERE slot.id = wanted.id AND slot.rack_id = ${rackId}::uuid AND slot.base <> wanted.base::"Base"`;
  work.record('slot_base.changed', { type: 'rack', id: rackId }, { slots: changed });
  work.reevaluate(rack.system.id);
}
