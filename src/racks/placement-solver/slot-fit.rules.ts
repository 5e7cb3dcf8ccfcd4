import type { Base } from '../../generated/prisma/enums.ts';
import type { PlaceCare } from '../../stock/light/place-care.ts';
import type { LotReach, SlotPosition } from '../../stock/places/reach.rules.ts';
import { ASSUMED_SIZE_MM } from '../../stock/places/reach.rules.ts';
import { basesIn } from './base-preference.rules.ts';

/** A slot as the planner weighs it. Flow counts from 0 still to 3 high. */
export interface PlanSlot extends SlotPosition {
  id: string;
  rackId: string;
  systemId: string;
  row: number;
  column: number;
  light: { par: number; error: number; dli: number } | null;
  flow: number;
  jet: boolean;
  base: Base;
  quarantine: boolean;
  /** mm; null where the rack does not say. */
  widthMm: number | null;
  depthMm: number | null;
  /** On a rack that may be used, and not promised to anybody else. */
  open: boolean;
  /** On a rack that is to be emptied. */
  emptied: boolean;
}

/** A lot as the planner weighs it. */
export interface PlanLot {
  id: string;
  code: string;
  kindId: string;
  kind: string;
  care: PlaceCare & { accustomed: number | null };
  sizeMm: number | null;
  quarantine: boolean;
  /** The slots it takes now; none when it stands nowhere. */
  slotIds: readonly string[];
  /** Chosen to be placed; may make way for others; or stays, and why. */
  part: 'chosen' | 'makes-way' | 'stays';
  staysWhy: string;
}

/** What can forbid a slot to a lot, each a bit of a mask. */
export const LIMITS = {
  unmeasured: 1,
  ceiling: 2,
  step: 4,
  dim: 8,
  flow: 16,
  jet: 32,
  base: 64,
  quarantine: 128,
  size: 256,
  emptied: 512,
  reach: 1024,
} as const;
export type Limit = keyof typeof LIMITS;

export const limitsIn = (mask: number): Limit[] =>
  (Object.keys(LIMITS) as Limit[]).filter((limit) => (mask & LIMITS[limit]) !== 0);

/** Below this part of the kind's range a place is far too dim (own choice), unless the lot is used to no more. */
export const FAR_TOO_DIM = 0.8;
/** Steps are compared past what rounding and arithmetic leave open. */
const HAIR = 1.005;

/** A lot's needs, reckoned once. Light as PAR and as daily light; Infinity and 0 where nobody states a limit. */
export interface Needs extends LotReach {
  parCeiling: number;
  parLow: number;
  parHigh: number;
  accustomed: number | null;
  mostDli: number;
  flowLow: number;
  flowHigh: number;
  bearsJet: boolean;
  bases: ReadonlySet<Base> | null;
  quarantine: boolean;
  knownSizeMm: number | null;
}

/** @param lot its care as the kind's library and its own figures give it */
export function needsOf({ care, kindId, sizeMm, quarantine }: PlanLot): Needs {
  const { accustomed, stepRatio } = care;
  return {
    kindId,
    reachMm: care.reachMm ?? 0,
    sizeMm: sizeMm ?? ASSUMED_SIZE_MM,
    knownSizeMm: sizeMm,
    parCeiling: care.parCeiling ?? Number.POSITIVE_INFINITY,
    parLow: care.parLow ?? 0,
    parHigh: care.parHigh ?? care.parCeiling ?? Number.POSITIVE_INFINITY,
    accustomed,
    mostDli:
      accustomed === null || stepRatio === null ? Number.POSITIVE_INFINITY : accustomed * stepRatio * HAIR,
    flowLow: care.flowLow ?? 0,
    flowHigh: care.flowHigh ?? 3,
    bearsJet: care.jet === null || care.jet === 'tolerated',
    bases: basesIn(care.base),
    quarantine,
  };
}

/**
 * Which limits a slot breaks for a lot, as a mask; 0: it can stand there. For a move the light counts with one standard
 * error on top (own choice), so that a guess never sends a lot into too much; where it stands already it counts as told.
 * What else stands near is judged elsewhere.
 */
export function brokenAt(needs: Needs, slot: PlanSlot, staying: boolean): number {
  let mask = lightBroken(needs, slot, staying);
  if (slot.flow < needs.flowLow || slot.flow > needs.flowHigh) mask |= LIMITS.flow;
  if (slot.jet && !needs.bearsJet) mask |= LIMITS.jet;
  if (needs.bases !== null && !needs.bases.has(slot.base)) mask |= LIMITS.base;
  if (slot.quarantine !== needs.quarantine) mask |= LIMITS.quarantine;
  if (slot.emptied) mask |= LIMITS.emptied;
  return mask;
}

function lightBroken(needs: Needs, { light }: PlanSlot, staying: boolean): number {
  if (light === null) return staying ? 0 : LIMITS.unmeasured;
  const sure = staying || light.par === 0 ? 1 : (light.par + light.error) / light.par;
  let mask = light.par * sure > needs.parCeiling ? LIMITS.ceiling : 0;
  if (light.dli * sure > needs.mostDli) mask |= LIMITS.step;
  if (light.par < needs.parLow * FAR_TOO_DIM && !(usedPar(needs, light) <= light.par * HAIR))
    mask |= LIMITS.dim;
  return mask;
}

/** The PAR under these lamps that gives the daily light a lot is used to; NaN where that is not known. */
function usedPar({ accustomed }: Needs, { par, dli }: { par: number; dli: number }): number {
  return accustomed === null || dli === 0 ? Number.NaN : (par * accustomed) / dli;
}

/** True when a piece of a lot is too large for so many slots. */
export function tooLarge(
  { knownSizeMm }: Needs,
  { widthMm, depthMm }: PlanSlot,
  across: number,
  deep: number,
): boolean {
  if (knownSizeMm === null || widthMm === null || depthMm === null) return false;
  return knownSizeMm > widthMm * across || knownSizeMm > depthMm * deep;
}

/** What a move costs besides what it brings, in the unit of mismatch: 0.5 is light wrong by a factor of 1.65 (own choice). */
export const MOVE_PRICE = 0.5;
/** Another water on top of it (own choice). */
export const OTHER_WATER_PRICE = 0.3;
const FLOW_PRICE = 0.1;
const JET_PRICE = 0.05;

/**
 * How badly a slot within the limits suits a lot: the natural logarithm of its light over what suits now (what the lot
 * is used to, kept within its kind's range), and a little for flow away from the middle of its classes.
 */
export function mismatch(needs: Needs, slot: PlanSlot): number {
  const flow =
    FLOW_PRICE * Math.abs(slot.flow - (needs.flowLow + needs.flowHigh) / 2) + (slot.jet ? JET_PRICE : 0);
  if (slot.light === null || slot.light.par <= 0) return flow + 1;
  const { par, error } = slot.light;
  return flow + Math.abs(Math.log(par / suitingPar(needs, slot.light))) + error / par / 2;
}

/** What a lot is used to, within its kind's range; the dim end of the range where that is not known. */
function suitingPar(needs: Needs, light: { par: number; dli: number }): number {
  const { parLow, parHigh } = needs;
  const used = usedPar(needs, light);
  if (Number.isNaN(used) || used === 0) return parLow > 0 ? parLow : Math.min(light.par, parHigh);
  return Math.min(Math.max(used, parLow), Number.isFinite(parHigh) ? parHigh : Math.max(used, parLow));
}
