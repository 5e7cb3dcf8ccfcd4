import type { Pace } from '../light/pace.rules.ts';
import { type Bearing, usedTo, withinStep } from './pace.rules.ts';

/** Slots of one rack that a lot can stand in together: as many as it takes. */
export interface CandidatePlace {
  slotIds: readonly string[];
  /** "Rack S2, A3". */
  name: string;
  /** Mean over its slots at full light, umol/(m2 s), and the brightest of them. */
  par: number;
  parMax: number;
  /** Daily light, mol/(m2 d). */
  dli: number;
  dliMax: number;
}

/** A lot that goes from place to place, and the places that suit it (flow, base, quarantine), free or its own. */
export interface LotInPlan extends Bearing {
  /** Where it is; null when it is nowhere. */
  here: CandidatePlace | null;
  places: readonly CandidatePlace[];
}

/** Where they go: a daily light, or one place. */
export interface Goal {
  dli: number;
  /** Of a single lot: this place and no other. */
  place: CandidatePlace | null;
}

/** How a plan begins. */
export interface Beginning {
  pace: Pace;
  /**
   * What they are used to: the light they stand in here; what they had elsewhere; or not known, so that they go first
   * to the light they are taken as used to.
   */
  received: 'here' | 'elsewhere' | 'unknown';
  /** Days before the first step. */
  startDay?: number;
}

/** One lot's move on one day. */
export interface SlotStep {
  /** From 1; steps of one day share it. */
  position: number;
  day: number;
  lotId: string;
  code: string;
  /** Null where no free place suits: then `gap` says between which daily lights one was looked for. */
  place: CandidatePlace | null;
  dli: number;
  par: number | null;
  /** What it is used to when it goes there. */
  accustomedBefore: number;
  gap: Gap | null;
}

export interface Gap {
  low: number;
  high: number;
  /** The next brighter (or, downwards, dimmer) free place, to be shaded or lit to this step. */
  next: CandidatePlace | null;
}

export interface SlotPlan {
  steps: SlotStep[];
  /** Days from the start to the last step. */
  days: number;
  /** Codes of lots that never arrive, whatever is done. */
  stranded: string[];
}

/** A place within a tenth of the goal is the goal: that is what a meter is off by. */
export const NEAR = 1.1;
/** A move that changes less is not worth the handling. */
const WORTH = 1.03;
const MAX_ROUNDS = 80;

interface Walker extends LotInPlan {
  at: CandidatePlace | null;
  /** Null until it is in a light that it tolerates. */
  light: number | null;
  used: number;
  arrived: boolean;
}

/**
 * Steps from place to place towards a light, each within the pace of what the lot is then used to, none above its
 * ceiling, in real free slots; a slot belongs to one lot at a time. Where the next free place would be within reach
 * after a longer stay, the lot stays; where no place ever would be, the step says so and is reckoned as if the light
 * were made there by shading.
 * @param lots in any order; those in the brightest light move first, so that the places they leave can be used
 */
export function planBySlots(lots: readonly LotInPlan[], goal: Goal, beginning: Beginning): SlotPlan {
  const { pace, startDay = 0 } = beginning;
  const walkers = lots.map((lot) => walkerOf(lot, goal, beginning));
  const held = new Map(walkers.flatMap((lot) => (lot.at?.slotIds ?? []).map((id) => [id, lot.lotId])));
  const steps: SlotStep[] = [];
  let position = 0;
  for (let round = 0; round < MAX_ROUNDS && walkers.some((lot) => !lot.arrived); round++) {
    const day = startDay + round * pace.dwellDays;
    const ratio = round === 0 && beginning.received === 'unknown' ? 1 : pace.stepRatio;
    const moved = inOrder(walkers, goal).flatMap((lot) => {
      const step = nextStep(lot, goal, ratio, held, day);
      return step !== null && take(lot, step, held) ? step : [];
    });
    if (moved.length > 0) position += 1;
    steps.push(...moved.map((step) => ({ ...step, position })));
    for (const lot of walkers) settle(lot, pace);
  }
  const stranded = walkers.filter((lot) => !lot.arrived).map((lot) => lot.code);
  return { steps, days: steps.at(-1)?.day ?? 0, stranded };
}

function walkerOf(lot: LotInPlan, goal: Goal, { received, pace }: Beginning): Walker {
  const there = lot.here;
  const tolerated =
    received === 'here' && there !== null && there.dli <= lot.accustomed * pace.stepRatio * HAIR;
  const arrived =
    tolerated &&
    (goal.place === null
      ? near(there.dli, goal.dli) && isBearable(lot, there)
      : samePlace(there, goal.place));
  return { ...lot, at: there, light: tolerated ? there.dli : null, used: lot.accustomed, arrived };
}

const HAIR = 1 + 1e-9;
const near = (dli: number, goal: number) => dli <= goal * NEAR && dli >= goal / NEAR;
const isBearable = (lot: Bearing, place: CandidatePlace) =>
  lot.parCeiling === null || place.parMax <= lot.parCeiling * HAIR;
const samePlace = (a: CandidatePlace | null, b: CandidatePlace) =>
  a !== null && a.slotIds.length === b.slotIds.length && a.slotIds.every((id) => b.slotIds.includes(id));

function settle(lot: Walker, { dwellDays, adaptationDays }: Pace): void {
  if (lot.light !== null) lot.used = usedTo(lot.used, lot.light, dwellDays, adaptationDays);
}

function inOrder(walkers: readonly Walker[], goal: Goal): Walker[] {
  const up = walkers.some((lot) => goal.dli >= lot.used) ? 1 : -1;
  return walkers
    .filter((lot) => !lot.arrived)
    .sort((a, b) => up * ((b.light ?? b.used) - (a.light ?? a.used)) || a.code.localeCompare(b.code));
}

/** Puts the lot there; false when it is there already. */
function take(lot: Walker, { dli, place }: Step, held: Map<string, string>): boolean {
  lot.light = dli;
  if (place === null) return true;
  if (samePlace(lot.at, place)) return false;
  for (const id of lot.at?.slotIds ?? []) held.delete(id);
  for (const id of place.slotIds) held.set(id, lot.lotId);
  lot.at = place;
  return true;
}

type Step = Omit<SlotStep, 'position'>;

function nextStep(
  lot: Walker,
  goal: Goal,
  ratio: number,
  held: ReadonlyMap<string, string>,
  day: number,
): Step | null {
  const isFree = (id: string) => (held.get(id) ?? lot.lotId) === lot.lotId;
  const free = lot.places.filter((place) => isBearable(lot, place) && place.slotIds.every(isFree));
  const final = arrival(lot, goal, free, ratio);
  if (final !== null) lot.arrived = true;
  const place =
    final ?? onTheWay(lot, goal, free, ratio) ?? (lot.light === null ? firstPlace(lot, free, ratio) : null);
  if (place !== null) return stepTo(lot, place, day);
  return lot.light === null ? nowhere(lot, free, ratio, day) : waitOrGap(lot, goal, free, ratio, day);
}

function stepTo({ lotId, code, used }: Walker, place: CandidatePlace, day: number): Step {
  const { dli, par } = place;
  return { day, lotId, code, place, dli, par, accustomedBefore: used, gap: null };
}

function arrival(
  lot: Walker,
  { dli, place }: Goal,
  free: readonly CandidatePlace[],
  ratio: number,
): CandidatePlace | null {
  if (place !== null) return isBearable(lot, place) && withinStep(place.dli, lot.used, ratio) ? place : null;
  if (!withinStep(dli, lot.used, ratio)) return null;
  const there = free.filter((one) => near(one.dli, dli) && withinStep(one.dli, lot.used, ratio));
  const off = (one: CandidatePlace) => Math.abs(Math.log(one.dli / dli));
  return there.sort((a, b) => off(a) - off(b))[0] ?? null;
}

/** What a move must change to be worth the handling, within what a step may be. */
const worthOf = (ratio: number) => Math.min(WORTH, Math.sqrt(ratio));

/** The place furthest towards the goal that the lot may be put to now, and that is worth the move. */
function onTheWay(
  lot: Walker,
  goal: Goal,
  free: readonly CandidatePlace[],
  ratio: number,
): CandidatePlace | null {
  const from = lot.light ?? lot.used;
  const [up, worth] = [goal.dli >= from, worthOf(ratio)];
  const towards = free.filter(({ dli }) =>
    up ? dli >= from * worth && dli <= goal.dli : dli <= from / worth && dli >= goal.dli,
  );
  const fitting = towards.filter(({ dli }) => withinStep(dli, lot.used, ratio));
  return fitting.sort((a, b) => (up ? b.dli - a.dli : a.dli - b.dli))[0] ?? null;
}

/** A lot that came needs a place: the brightest that it tolerates, if need be dimmer than the one it had. */
function firstPlace(lot: Walker, free: readonly CandidatePlace[], ratio: number): CandidatePlace | null {
  const bearable = free.filter(({ dli }) => dli <= lot.used * ratio * HAIR);
  return bearable.sort((a, b) => b.dli - a.dli)[0] ?? null;
}

function nowhere(lot: Walker, free: readonly CandidatePlace[], ratio: number, day: number): Step {
  const [next] = [...free].sort((a, b) => a.dli - b.dli);
  return gapAt(lot, lot.used, { low: 0, high: lot.used * ratio, next: next ?? null }, day);
}

const gapAt = ({ lotId, code, used }: Walker, dli: number, gap: Gap, day: number): Step => {
  return { day, lotId, code, place: null, dli, par: null, accustomedBefore: used, gap };
};

/** A lot is taken as settled within half a per cent of its light. */
const SETTLED = 0.005;

function waitOrGap(
  lot: Walker,
  goal: Goal,
  free: readonly CandidatePlace[],
  ratio: number,
  day: number,
): Step | null {
  const from = lot.light ?? lot.used;
  const [up, worth] = [goal.dli >= from, worthOf(ratio)];
  const next = nextPlace(from, goal, free, worth);
  const bound = up ? Math.min(lot.used * ratio, goal.dli) : Math.max(lot.used / ratio, goal.dli);
  const unsettled = Math.abs(lot.used / from - 1) > SETTLED;
  const reach = next === null ? null : up ? next.dli / from : from / next.dli;
  const comesWithinReach = reach !== null && reach < ratio * (1 - SETTLED);
  const tooSoon = up ? bound < from * worth : bound > from / worth;
  if (unsettled && (comesWithinReach || (tooSoon && bound !== goal.dli))) return null;
  if (bound === goal.dli) lot.arrived = true;
  const [low, high] = up ? [Math.min(from * worth, bound), bound] : [bound, Math.max(from / worth, bound)];
  return gapAt(lot, bound, { low, high, next }, day);
}

/** The nearest free place ahead, up to the goal. */
function nextPlace(
  from: number,
  goal: Goal,
  free: readonly CandidatePlace[],
  worth: number,
): CandidatePlace | null {
  const up = goal.dli >= from;
  const ahead = [...free, ...(goal.place === null ? [] : [goal.place])].filter(({ dli }) =>
    up ? dli >= from * worth && dli <= goal.dli * NEAR : dli <= from / worth && dli >= goal.dli / NEAR,
  );
  return ahead.sort((a, b) => (up ? a.dli - b.dli : b.dli - a.dli))[0] ?? null;
}
