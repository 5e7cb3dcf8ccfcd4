import { accustomedLight } from '../../science/light.ts';
import { dayOf, daysBetween } from '../../science/numeric/time.ts';
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

/** Why it is not known what a lot is used to; null where it is. */
export type WhyNotAccustomed = 'no light' | 'no hours' | { knownDays: number; needed: number } | null;

/**
 * Whether what a lot is used to is known: its light was measured, for known hours, and for as long as it takes to get
 * used to it, or it came with a stated light.
 */
export function whyNotAccustomed(
  { exposures, accustomed, arrival }: AccustomedLight,
  adaptationDays: number | null,
  now: Date,
): WhyNotAccustomed {
  const [first] = exposures;
  if (accustomed === null || first === undefined) return 'no light';
  if (exposures.some(({ hoursKnown }) => !hoursKnown)) return 'no hours';
  if (isKnownLongEnough(dayOf(first.from), dayOf(now), adaptationDays, arrival !== null)) return null;
  const needed = adaptationDays ?? DEFAULT_ADAPTATION_DAYS;
  return { knownDays: Math.floor(daysBetween(first.from, now)), needed };
}

/**
 * Whether light known since `firstDay` says on `today` what a lot is used to: for as long as it takes to get used to it, or
 * where it came with a stated light. Days since 1970.
 */
export const isKnownLongEnough = (
  firstDay: number,
  today: number,
  adaptationDays: number | null,
  stated: boolean,
): boolean => stated || today - firstDay >= (adaptationDays ?? DEFAULT_ADAPTATION_DAYS);

/** The light of a lot as far as what it is used to follows from it. */
export interface AccustomedLight {
  exposures: readonly Exposure[];
  accustomed: number | null;
  arrival: ArrivalLight | null;
}

/** What a lot is used to, mol/(m2 d), where that is known; else null, and nothing is worked out from it. */
export const knownAccustomed = (
  light: AccustomedLight,
  adaptationDays: number | null,
  now: Date,
): number | null => (whyNotAccustomed(light, adaptationDays, now) === null ? light.accustomed : null);

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
