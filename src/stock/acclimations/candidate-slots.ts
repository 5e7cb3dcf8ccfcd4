import { ASSUMED_HOURS, fullLightHours } from '../../farm/light/lamp-settings.rules.ts';
import { flowLevel } from '../../farm/racks/flow.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dailyLightMolM2 } from '../../science/light.ts';
import { type SlotOccupancy, slotOccupancy } from '../places/occupancy.ts';
import { promisedSlots } from '../places/promised-slots.ts';
import { placeWords } from '../places/slots.ts';
import type { LotWithLight } from './lots.ts';
import type { CandidatePlace } from './slot-steps.rules.ts';

/** Slots of the racks that may be used, with who has been promised them. */
export interface Shelves {
  slots: readonly LitSlot[];
  racks: ReadonlyMap<string, ShelfRack>;
  promised: ReadonlySet<string>;
}

interface ShelfRack {
  id: string;
  name: string;
  tankName: string;
  systemId: string;
  quarantine: boolean;
}

export interface LitSlot extends SlotOccupancy {
  light: NonNullable<SlotOccupancy['light']> & { dli: number };
}

const rackQuery = `
  SELECT rack.id, rack.name, tank.name AS "tankName", tank.system_id AS "systemId", tank.quarantine
    FROM rack JOIN tank ON tank.id = rack.tank_id
   WHERE tank.system_id = ANY($1::uuid[]) ORDER BY tank.position, tank.name, rack.position, rack.name`;

/** Every lit slot of these systems, and what other plans have been promised. Three queries. */
export async function readShelves(
  reader: SqlReader,
  systemIds: readonly string[],
  now: Date,
): Promise<Shelves> {
  const racks = (await reader.query<ShelfRack>(rackQuery, [systemIds])).rows;
  const slots = await slotOccupancy(
    reader,
    racks.map((rack) => rack.id),
    now,
  );
  return {
    racks: new Map(racks.map((rack) => [rack.id, rack])),
    slots: slots.flatMap((slot) => (slot.light === null ? [] : { ...slot, light: withDaily(slot.light) })),
    promised: await promisedSlots(reader),
  };
}

const withDaily = (light: NonNullable<SlotOccupancy['light']>) => ({
  ...light,
  dli: light.dli ?? dailyLightMolM2(light.par, fullLightHours(ASSUMED_HOURS)),
});

/** Slots next to each other as one place. @param slots of one rack, at least one */
export function placeOf(shelves: Shelves, slots: readonly LitSlot[]): CandidatePlace {
  const mean = (of: (slot: LitSlot) => number) =>
    slots.reduce((sum, slot) => sum + of(slot), 0) / slots.length;
  return {
    slotIds: slots.map((slot) => slot.id),
    name: placeWords(shelves.racks.get(slots[0]?.rackId ?? '')?.name ?? '', slots),
    par: mean((slot) => slot.light.par),
    parMax: Math.max(...slots.map((slot) => slot.light.par)),
    dli: mean((slot) => slot.light.dli),
    dliMax: Math.max(...slots.map((slot) => slot.light.dli)),
  };
}

/** Where the lot stands now; null where it stands nowhere, or where light was never measured. */
export function standsAt(shelves: Shelves, lot: LotWithLight): CandidatePlace | null {
  const slots = shelves.slots.filter((slot) => lot.slotIds.includes(slot.id));
  return slots.length === 0 ? null : placeOf(shelves, slots);
}

/**
 * The places that suit a lot and are not promised: free, or held by lots of the same plan; as many slots side by side
 * as it takes now; flow as its kind is kept, no jet its flesh would suffer from, quarantine apart from the rest.
 */
export function placesFor(
  shelves: Shelves,
  lot: LotWithLight,
  together: ReadonlySet<string>,
): CandidatePlace[] {
  const usable = shelves.slots.filter((slot) => isUsable(shelves, slot, lot, together));
  const size = Math.max(1, lot.slotIds.length);
  return runsOf(usable, size).map((slots) => placeOf(shelves, slots));
}

function isUsable(
  { racks, promised }: Shelves,
  slot: LitSlot,
  { care, inQuarantine }: LotWithLight,
  together: ReadonlySet<string>,
): boolean {
  const flow = flowLevel(slot.flow);
  // Where the flow is not known it does not speak against a slot.
  const flows = flow === null || (flow >= (care.flow?.low ?? 0) && flow <= (care.flow?.high ?? 3));
  const jet = !slot.jet || care.jet?.words === 'tolerated';
  const apart = racks.get(slot.rackId)?.quarantine === inQuarantine;
  const free = slot.lot === null || together.has(slot.lot.id);
  return flows && jet && apart && free && !promised.has(slot.id);
}

/** Every `size` slots side by side in one row of a rack. */
function runsOf(slots: readonly LitSlot[], size: number): LitSlot[][] {
  if (size === 1) return slots.map((slot) => [slot]);
  const at = new Map(slots.map((slot) => [`${slot.rackId} ${slot.row} ${slot.column}`, slot]));
  return slots.flatMap((slot) => {
    const run = Array.from({ length: size }, (_, i) =>
      at.get(`${slot.rackId} ${slot.row} ${slot.column + i}`),
    ).filter((one) => one !== undefined);
    return run.length === size ? [run] : [];
  });
}
