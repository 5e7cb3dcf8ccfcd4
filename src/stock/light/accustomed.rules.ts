import { accustomedLight } from '../../science/light.ts';
import { dayOf } from '../../science/numeric/time.ts';
import type { Exposure } from './exposure.rules.ts';

/** Time constant of adaptation to light where a kind states none, days (common practice). */
export const DEFAULT_ADAPTATION_DAYS = 10;

/** The light that a lot was accustomed to when its running acclimation began, as the acclimation states it. */
export interface ArrivalLight {
  /** Days since 1970. */
  startsDay: number;
  /** mol/(m2 d) */
  fromDli: number;
}

/**
 * How near the first known light of a lot must lie to the start of its acclimation for the stated light to count, days
 * (own choice): a lot that was here long before has a light of its own.
 */
const ARRIVAL_DAYS = 2;

/**
 * The daily light that a lot counts as accustomed to at the start of its history, mol/(m2 d): what its acclimation states
 * if it arrived with that, else its first light here.
 */
export function initialLight(arrival: ArrivalLight | null, first: { fromDay: number; dli: number }): number {
  return arrival !== null && Math.abs(first.fromDay - arrival.startsDay) <= ARRIVAL_DAYS
    ? arrival.fromDli
    : first.dli;
}

/**
 * The daily light a lot is accustomed to, mol/(m2 d), from the light it has had. It counts as fully accustomed to
 * {@link initialLight} at the start. Null where its light was never known.
 */
export function accustomedTo(
  exposures: readonly Exposure[],
  adaptationDays: number | null,
  now: Date,
  arrival: ArrivalLight | null,
): number | null {
  const [first] = exposures;
  if (first === undefined) return null;
  const pieces = exposures.map(({ from, dli }) => ({
    fromDay: dayOf(from),
    dailyLight: dli,
  }));
  return accustomedLight(
    pieces,
    adaptationDays ?? DEFAULT_ADAPTATION_DAYS,
    initialLight(arrival, { fromDay: dayOf(first.from), dli: first.dli }),
    dayOf(now),
  );
}
