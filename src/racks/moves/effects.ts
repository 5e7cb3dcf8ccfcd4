import { findRack, type Rack } from '../../farm/racks/racks.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { placeCareOf } from '../../stock/light/place-care.ts';
import { type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { type MoveMeaning, moveMeaning } from './effects.rules.ts';
import { type Mover, type Neighbour, neighboursOf } from './moves.ts';

/** Where a lot would go. */
interface Goal {
  rack: Rack;
  slots: SlotOccupancy[];
}

/** The slots with all that stands there. @throws Refusal when one is unknown, or they are not on one rack */
export async function placeOf(service: Service, slotIds: string[]): Promise<Goal> {
  const slot = await service.db.slot.findUnique({ where: { id: slotIds[0] as string } });
  if (slot === null) throw notFound('This slot');
  const [rack, all] = await Promise.all([
    findRack(service.db, slot.rackId),
    slotOccupancy(service.pool, [slot.rackId], service.now()),
  ]);
  const slots = all.filter((one) => slotIds.includes(one.id));
  if (slots.length < new Set(slotIds).size)
    throw new Refusal('A lot stands on one rack, within its rows and columns. Choose its slots again.');
  return { rack, slots };
}

/** "N3, B4, B5". */
export const placeWords = ({ rack, slots }: Goal) =>
  `${rack.name}, ${slots.map((slot) => slot.name).join(', ')}`;

/** What moving a lot to these slots means, who stands there already, and who beside. */
export async function meaningOf(service: Service, lot: Mover, slotIds: string[]) {
  const now = service.now();
  const goal = await placeOf(service, slotIds);
  const own = lot.slots.map((slot) => slot.id);
  const [habits, before, neighbours] = await Promise.all([
    placeCareOf(service.pool, [lot.id], now),
    lot.slots[0] === undefined ? [] : slotOccupancy(service.pool, [lot.slots[0].rackId], now),
    neighboursOf(service.pool, slotIds, lot.id),
  ]);
  const taken = goal.slots.find((slot) => slot.lot !== null && slot.lot.id !== lot.id)?.lot ?? null;
  const stands = before.find((slot) => own.includes(slot.id)) ?? null;
  const habit = habits.get(lot.id);
  const meaning = habit === undefined ? nothing : inAll(goal, stands, habit);
  return { goal, taken, meaning, neighbours: neighbours.map(neighbourWords) };
}

const nothing: MoveMeaning = { statements: [], risks: [], inSteps: false };

/** Over several slots the brightest tells the light, and any jet counts. */
function inAll(
  goal: Goal,
  stands: SlotOccupancy | null,
  habit: Parameters<typeof moveMeaning>[2],
): MoveMeaning {
  const [brightest] = [...goal.slots].sort((a, b) => (b.light?.par ?? -1) - (a.light?.par ?? -1));
  if (brightest === undefined) return nothing;
  const jet = goal.slots.some((slot) => slot.jet);
  return moveMeaning(stands, { ...brightest, jet }, habit);
}

const neighbourWords = ({ code, kind, slot, reachMm }: Neighbour) =>
  `${code} in ${slot}: ${kind}${reachMm === null ? '' : `, reaches ${reachMm} mm`}`;
