import { findRack, type Rack } from '../../farm/racks/racks.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { type LotPlaceCare, placeCareOf } from '../../stock/light/place-care.ts';
import { troublesOfMoves } from '../../stock/pests/troubles.ts';
import { type MoveEffect, moveEffect } from '../../stock/places/move-effects.rules.ts';
import { type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { type MovableLot, type Neighbour, neighboursAt } from './moves.ts';

/** The slots a lot would go to, all on one rack. */
interface MoveTarget {
  rack: Rack;
  slots: SlotOccupancy[];
}

/** The slots a lot would go to, with what stands on them. @throws Refusal when one is unknown, or they are not on one rack */
export async function findTarget(service: Service, slotIds: string[]): Promise<MoveTarget> {
  const slot = await service.db.slot.findUnique({ where: { id: slotIds[0] as string } });
  if (slot === null) throw notFound('This slot');
  const [rack, all] = await Promise.all([
    findRack(service.db, slot.rackId),
    slotOccupancy(service.pool, [slot.rackId], service.now()),
  ]);
  const slots = all.filter((one) => slotIds.includes(one.id));
  if (slots.length < new Set(slotIds).size)
    throw new Refusal('A lot has slots on one rack, within its rows and columns. Choose its slots again.');
  return { rack, slots };
}

/** "N3, B4, B5". */
export const targetWords = ({ rack, slots }: MoveTarget) =>
  `${rack.name}, ${slots.map((slot) => slot.name).join(', ')}`;

/** What moving a lot to these slots means, which lot takes one of them already, and the lots beside them. */
export async function effectOfMove(service: Service, lot: MovableLot, slotIds: string[]) {
  const now = service.now();
  const target = await findTarget(service, slotIds);
  const own = lot.slots.map((slot) => slot.id);
  const [habits, before, neighbours] = await Promise.all([
    placeCareOf(service.pool, [lot.id], now),
    lot.slots[0] === undefined ? [] : slotOccupancy(service.pool, [lot.slots[0].rackId], now),
    neighboursAt(service.pool, slotIds, lot.id),
  ]);
  const taken = target.slots.find((slot) => slot.lot !== null && slot.lot.id !== lot.id)?.lot ?? null;
  const present = before.find((slot) => own.includes(slot.id)) ?? null;
  const needs = habits.get(lot.id);
  const onSlots = needs === undefined ? noEffect : overSlots(target.slots, present, needs);
  const troubles = await troublesOfMoves(service.pool, [{ lotId: lot.id, code: lot.code, slotIds }]);
  const why = troubles.get(lot.id)?.why ?? '';
  const risks = [
    ...(why === '' ? [] : [`${why} See to that first, and leave the lots where they are.`]),
    ...[...onSlots.risks, ...otherWater(lot, target.rack)],
  ];
  const effect = { ...onSlots, risks };
  return { target, taken, effect, neighbours: neighbours.map(neighbourWords), asksWhy: why !== '' };
}

/** Common practice: a coral is brought into other water slowly, since a step of salinity or heat harms it. */
function otherWater(lot: MovableLot, { system }: Rack): string[] {
  if (lot.slots.length === 0 || lot.slots.some(({ systemId }) => systemId === system.id)) return [];
  return [
    `It is other water, that of ${system.name}: compare temperature and salinity first, and let the lot get used to it over an hour or so (common practice).`,
  ];
}

const noEffect: MoveEffect = { statements: [], risks: [], inSteps: false };

/** Over several slots the brightest counts for light, and a jet at any of them counts. */
export function overSlots(
  slots: readonly SlotOccupancy[],
  present: SlotOccupancy | null,
  needs: LotPlaceCare,
): MoveEffect {
  const [brightest] = [...slots].sort((a, b) => (b.light?.par ?? -1) - (a.light?.par ?? -1));
  if (brightest === undefined) return noEffect;
  const jet = slots.some((slot) => slot.jet);
  return moveEffect(present, { ...brightest, jet }, needs);
}

const neighbourWords = ({ code, kind, slot, reachMm }: Neighbour) =>
  `${code} in ${slot}: ${kind}${reachMm === null ? '' : `, reaches ${mmWords(reachMm)}`}`;
