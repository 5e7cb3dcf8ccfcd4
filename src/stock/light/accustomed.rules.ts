import { accustomedLight } from '../../science/light.ts';
import { dayOf } from '../../science/numeric/time.ts';
import type { Exposure } from './exposure.rules.ts';

/** What is known of how a lot bears a place. PAR in umol/(m2 s); null: nobody states it. */
export interface PlaceCare {
  /** Days of adaptation (time constant). */
  adaptationDays: number | null;
  /** The most that a step may stand above what it is accustomed to. */
  stepRatio: number | null;
  /** Days between two such steps. */
  dwellDays?: number | null;
  parLow: number | null;
  parHigh: number | null;
  parCeiling: number | null;
  /** Flow classes it is kept in, 0 still to 3 high. */
  flowLow: number | null;
  flowHigh: number | null;
  /** What is said of a jet, of what it stands on. */
  jet: string | null;
  base: string | null;
  /** How far it reaches its neighbours, mm. */
  reachMm: number | null;
}

/** Time constant of adaptation to light where a kind states none, days (common practice). */
export const USUAL_ADAPTATION_DAYS = 10;

/** What the acclimation a lot is in says it was used to when that began. Days since 1970, mol/(m2 d). */
export interface CameWith {
  startsDay: number;
  fromDli: number;
}

/** A lot whose light is first known within these days of the start of its acclimation came with what the plan says. */
const ARRIVAL_DAYS = 2;

/** The light a lot is taken as settled in when its first known piece began, mol/(m2 d). */
export function startLight(came: CameWith | null, first: { fromDay: number; dli: number }): number {
  return came !== null && Math.abs(first.fromDay - came.startsDay) <= ARRIVAL_DAYS ? came.fromDli : first.dli;
}

/**
 * The daily light a lot is accustomed to, mol/(m2 d), from what it has lived in; it is taken as settled at the
 * start ({@link startLight}). Null where its light was never known.
 */
export function accustomedTo(
  exposures: readonly Exposure[],
  adaptationDays: number | null,
  now: Date,
  came: CameWith | null,
): number | null {
  const [first] = exposures;
  if (first === undefined) return null;
  const pieces = exposures.map(({ from, dli }) => ({
    fromDay: dayOf(from),
    dailyLight: dli,
  }));
  return accustomedLight(
    pieces,
    adaptationDays ?? USUAL_ADAPTATION_DAYS,
    startLight(came, { fromDay: dayOf(first.from), dli: first.dli }),
    dayOf(now),
  );
}
