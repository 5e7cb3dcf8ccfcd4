import type { Pace } from '../light/pace.rules.ts';
import {
  type CandidatePlace,
  type Goal,
  type LotInPlan,
  NEAR,
  planBySlots,
  type SlotPlan,
  type SlotStep,
} from './slot-steps.rules.ts';

/** Days in the dimmer place before a bleached lot is raised again, at the earliest (own choice). */
export const RECOVERY_DAYS = 28;

/**
 * A bleached lot goes to a dimmer place now, and is raised again only after that, half as fast as its kind takes and
 * from the light of that place: it counts as used to no more.
 * @param aim the daily light it is to rest in, mol/(m2 d)
 */
export function planRecovery(lots: readonly LotInPlan[], aim: number, goal: Goal, pace: Pace): SlotPlan {
  const held = new Set(lots.flatMap((lot) => lot.here?.slotIds ?? []));
  const rested = lots.map((lot) => {
    const place = restingPlace(lot, aim, held);
    for (const id of place?.slotIds ?? []) held.add(id);
    return { lot, place };
  });
  const slow = { ...pace, dwellDays: pace.dwellDays * 2 };
  const raised = rested.flatMap(({ lot, place }) =>
    place === null ? [] : [{ ...lot, here: place, accustomed: place.dli }],
  );
  const kept = new Set(rested.flatMap(({ lot, place }) => (place === null ? (lot.here?.slotIds ?? []) : [])));
  const later = raised.map((lot) => ({ ...lot, places: lot.places.filter((place) => isClear(place, kept)) }));
  const rise = planBySlots(later, goal, { pace: slow, received: 'here', startDay: RECOVERY_DAYS });
  const now = rested.map(({ lot, place }): SlotStep => {
    const { lotId, code, accustomed } = lot;
    const base = { position: 1, day: 0, lotId, code, accustomedBefore: accustomed };
    return place === null
      ? { ...base, place, dli: aim, par: null, gap: { low: aim / 2, high: aim * NEAR, next: null } }
      : { ...base, place, dli: place.dli, par: place.par, gap: null };
  });
  const steps = [...now, ...rise.steps.map((step) => ({ ...step, position: step.position + 1 }))];
  return { steps, days: steps.at(-1)?.day ?? 0, stranded: rise.stranded };
}

const isClear = ({ slotIds }: CandidatePlace, taken: ReadonlySet<string>) =>
  !slotIds.some((id) => taken.has(id));

/** The free place nearest to the aim that is clearly dimmer than where the lot stands; not in the dark. */
function restingPlace(
  { here, accustomed, places }: LotInPlan,
  aim: number,
  held: ReadonlySet<string>,
): CandidatePlace | null {
  const most = (here?.dli ?? accustomed) * 0.8;
  const off = ({ dli }: CandidatePlace) => Math.abs(Math.log(dli / aim));
  const dimmer = places.filter((place) => place.dli <= most && place.dli >= aim / 2 && isClear(place, held));
  return dimmer.sort((a, b) => off(a) - off(b))[0] ?? null;
}
