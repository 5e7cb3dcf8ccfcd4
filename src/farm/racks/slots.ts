import type { Base } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { type FlowChoice, flowOf } from './flow.rules.ts';
import { findRack, type Rack } from './racks.ts';
import type { RackSlot } from './slots.rules.ts';
import type { SlotValue } from './slots.schema.ts';

/** The slots within a rack's rows and columns, row by row. */
export async function slotsOfRack(
  db: Reader,
  rack: Pick<Rack, 'id' | 'rows' | 'columns'>,
): Promise<RackSlot[]> {
  const slots = await db.slot.findMany({
    where: { rackId: rack.id, row: { lte: rack.rows }, column: { lte: rack.columns } },
    orderBy: [{ row: 'asc' }, { column: 'asc' }],
    select: { id: true, row: true, column: true },
  });
  return slots.map(({ id, row, column }) => ({ slotId: id, row, column }));
}

interface Edit<V> {
  version: number;
  slots: readonly SlotValue<V>[];
}

/** The rack, taken for this change. @throws Refusal 404, 409 when somebody else was quicker */
async function takeRack(work: Work, rackId: string, version: number): Promise<Rack> {
  const rack = await findRack(work.tx, rackId);
  const taken = await work.tx.rack.updateMany({
    where: { id: rackId, version },
    data: { version: { increment: 1 } },
  });
  if (taken.count === 0) throw staleEdit('the slots of this rack');
  return rack;
}

/** Says how water moves at the slots of a rack. */
export async function setFlow(
  work: Work,
  rackId: string,
  { version, slots }: Edit<FlowChoice>,
): Promise<void> {
  const rack = await takeRack(work, rackId, version);
  const flows = slots.map(({ value }) => flowOf(value));
  const changed = await work.tx.$executeRaw`
    UPDATE slot SET flow = wanted.flow::"Flow", jet = wanted.jet
      FROM unnest(${slots.map((slot) => slot.slotId)}::uuid[], ${flows.map(({ flow }) => flow)}::text[],
                  ${flows.map(({ jet }) => jet)}::boolean[]) AS wanted (id, flow, jet)
     WHERE slot.id = wanted.id AND slot.rack_id = ${rackId}::uuid
       AND (slot.flow, slot.jet) IS DISTINCT FROM (wanted.flow::"Flow", wanted.jet)`;
  work.note('slot_flow.changed', { type: 'rack', id: rackId }, { slots: changed });
  work.touch(rack.system.id);
}

/** Says what the slots of a rack are made of. */
export async function setBase(work: Work, rackId: string, { version, slots }: Edit<Base>): Promise<void> {
  const rack = await takeRack(work, rackId, version);
  const changed = await work.tx.$executeRaw`
    UPDATE slot SET base = wanted.base::"Base"
      FROM unnest(${slots.map((slot) => slot.slotId)}::uuid[], ${slots.map(({ value }) => value)}::text[]) AS wanted (id, base)
     WHERE slot.id = wanted.id AND slot.rack_id = ${rackId}::uuid AND slot.base <> wanted.base::"Base"`;
  work.note('slot_base.changed', { type: 'rack', id: rackId }, { slots: changed });
  work.touch(rack.system.id);
}
