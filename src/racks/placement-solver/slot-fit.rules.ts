import type { Base } from '../../generated/prisma/enums.ts';
import type { LotPlaceCare } from '../../stock/light/place-care.ts';
import type { LotReach, SlotPosition } from '../../stock/places/reach.rules.ts';
import { ASSUMED_SIZE_MM } from '../../stock/places/reach.rules.ts';
import { acceptedBases } from './base-preference.rules.ts';

/** A slot as the solver sees it. Flow counts from 0 still to 3 high; null is not known. */
export interface PlanSlot extends SlotPosition {
  id: string;
  rackId: string;
  systemId: string;
  row: number;
  column: number;
  light: { par: number; error: number; dli: number } | null;
  flow: number | null;
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

/** A lot as the solver sees it. */
export interface PlanLot {
  id: string;
  code: string;
  kindId: string;
  kind: string;
  care: LotPlaceCare;
  sizeMm: number | null;
  quarantine: boolean;
  /** The slots it takes now; none when it stands nowhere. */
  slotIds: readonly string[];
  /** Chosen to be placed; may be moved to make room for others; or stays, and why. */
  role: 'chosen' | 'makes-way' | 'stays';
  staysWhy: string;
}

/** The limits of a slot for a lot: hard constraints, each a bit of a mask. */
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

/** The limits of a mask, by name. */
export const limitsIn = (mask: number): Limit[] =>
  (Object.keys(LIMITS) as Limit[]).filter((limit) => (mask & LIMITS[limit]) !== 0);

/** Below this share of the low end of the kind's range a slot is far too dim (own choice), unless the lot is accustomed to no more. */
export const FAR_TOO_DIM_RATIO = 0.8;
/** Light may pass a limit by this factor: less is rounding. */
const ROUNDING_TOLERANCE = 1.005;

/** The needs of a lot, computed once. Light as PAR and as daily light; Infinity and 0 where nobody states a limit. */
export interface Needs extends LotReach {
  parCeiling: number;
  parLow: number;
  parHigh: number;
  /** mol/(m2 d); null where that is not known, also where its light was not measured for long enough. */
  accustomed: number | null;
  dliLimit: number;
  flowLow: number;
  flowHigh: number;
  toleratesJet: boolean;
  bases: ReadonlySet<Base> | null;
  quarantine: boolean;
  knownSizeMm: number | null;
}

/** @param lot its care as the kind's library and its own figures give it */
export function needsOf({ care, kindId, sizeMm, quarantine }: PlanLot): Needs {
  // A light that was measured too shortly to be used to it still limits a step up, but is no light to go back to.
  const { accustomed: measured, isAccustomed, stepRatio } = care;
  return {
    kindId,
    reachMm: care.reachMm ?? 0,
    sizeMm: sizeMm ?? ASSUMED_SIZE_MM,
    knownSizeMm: sizeMm,
    parCeiling: care.parCeiling ?? Number.POSITIVE_INFINITY,
    parLow: care.parLow ?? 0,
    parHigh: care.parHigh ?? care.parCeiling ?? Number.POSITIVE_INFINITY,
    accustomed: isAccustomed ? measured : null,
    dliLimit:
      measured === null || stepRatio === null
        ? Number.POSITIVE_INFINITY
        : measured * stepRatio * ROUNDING_TOLERANCE,
    flowLow: care.flowLow ?? 0,
    flowHigh: care.flowHigh ?? 3,
    toleratesJet: care.jet === null || care.jet === 'tolerated',
    bases: acceptedBases(care.base),
    quarantine,
  };
}

/**
 * The limits that a lot breaks in a slot, as a mask; 0: it can stand there. For a move one standard error is added to the
 * light (own choice), so that an uncertain figure never sends a lot into too much; for a lot that stays it counts as it is.
 * Neighbours are judged by {@link IndexedProblem}.
 */
export function brokenLimits(needs: Needs, slot: PlanSlot, staying: boolean): number {
  let mask = brokenLightLimits(needs, slot, staying);
  if (slot.flow !== null && (slot.flow < needs.flowLow || slot.flow > needs.flowHigh)) mask |= LIMITS.flow;
  if (slot.jet && !needs.toleratesJet) mask |= LIMITS.jet;
  if (needs.bases !== null && !needs.bases.has(slot.base)) mask |= LIMITS.base;
  if (slot.quarantine !== needs.quarantine) mask |= LIMITS.quarantine;
  if (slot.emptied) mask |= LIMITS.emptied;
  return mask;
}

function brokenLightLimits(needs: Needs, { light }: PlanSlot, staying: boolean): number {
  if (light === null) return staying ? 0 : LIMITS.unmeasured;
  const errorFactor = staying || light.par === 0 ? 1 : (light.par + light.error) / light.par;
  let mask = light.par * errorFactor > needs.parCeiling ? LIMITS.ceiling : 0;
  if (light.dli * errorFactor > needs.dliLimit) mask |= LIMITS.step;
  if (
    light.par < needs.parLow * FAR_TOO_DIM_RATIO &&
    !(accustomedPar(needs, light) <= light.par * ROUNDING_TOLERANCE)
  )
    mask |= LIMITS.dim;
  return mask;
}

/** The PAR under these lamps that gives the daily light a lot is accustomed to; NaN where that is not known. */
function accustomedPar({ accustomed }: Needs, { par, dli }: { par: number; dli: number }): number {
  return accustomed === null || dli === 0 ? Number.NaN : (par * accustomed) / dli;
}

/** True when a piece is too large for `across` slots in a row and `deep` in a column. */
export function tooLarge(
  { knownSizeMm }: Needs,
  { widthMm, depthMm }: PlanSlot,
  across: number,
  deep: number,
): boolean {
  if (knownSizeMm === null || widthMm === null || depthMm === null) return false;
  return knownSizeMm > widthMm * across || knownSizeMm > depthMm * deep;
}

/** The cost of a move itself, in the unit of `mismatchCost`: 0.5 is as much as light that is off by a factor of 1.65 (own choice). */
export const MOVE_COST = 0.5;
/** The further cost of a move to another system, whose water differs (own choice). */
export const OTHER_SYSTEM_COST = 0.3;
/** Of one flow class away from the middle of those that suit (own choice). */
const FLOW_COST = 0.1;
/** A slot whose flow nobody has said counts as this many classes away: any known flow that suits is preferred (own choice). */
const UNKNOWN_FLOW_CLASSES = 2;
/** Of a jet, for a lot that tolerates one (own choice). */
const JET_COST = 0.05;

/**
 * How badly a slot within the limits suits a lot; 0 is best. The sum of the natural logarithm of its light over the target
 * (what the lot is accustomed to, kept within its kind's range), half the relative error of the light, and small costs for
 * flow and jets. Light that nobody measured costs 1.
 */
export function mismatchCost(needs: Needs, slot: PlanSlot): number {
  const away =
    slot.flow === null ? UNKNOWN_FLOW_CLASSES : Math.abs(slot.flow - (needs.flowLow + needs.flowHigh) / 2);
  const flow = FLOW_COST * away + (slot.jet ? JET_COST : 0);
  if (slot.light === null || slot.light.par <= 0) return flow + 1;
  const { par, error } = slot.light;
  return flow + Math.abs(Math.log(par / targetPar(needs, slot.light))) + error / par / 2;
}

/** The PAR a lot is accustomed to, kept within its kind's range; the low end of the range where that is not known. */
function targetPar(needs: Needs, light: { par: number; dli: number }): number {
  const { parLow, parHigh } = needs;
  const used = accustomedPar(needs, light);
  if (Number.isNaN(used) || used === 0) return parLow > 0 ? parLow : Math.min(light.par, parHigh);
  return Math.min(Math.max(used, parLow), Number.isFinite(parHigh) ? parHigh : Math.max(used, parLow));
}
