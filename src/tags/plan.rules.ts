import { acclimationSchedule, MOL_PER_UMOL_HOUR } from '../science/light.ts';
import type { TagRecord } from './record.ts';

/** What the buyer says of the place where it will stand. */
export interface BuyersPlace {
  /** PAR at full light, umol/(m2 s). */
  par: number;
  /** Hours of full light a day. */
  hours: number;
}

/** One stretch of the plan: from this day on (0 is the day it comes), stand it where about this PAR is. */
export interface PlanStep {
  fromDay: number;
  par: number;
}

/** How to start the pieces in another tank's light, or why there is no plan. */
export type Plan =
  | { kind: 'unknown' }
  | { kind: 'as-it-is'; par: number }
  | { kind: 'steps'; up: boolean; steps: PlanStep[] }
  | { kind: 'too-bright'; ceiling: number; steps: PlanStep[] };

/** Words for people without a meter; the figures are common practice. */
export const places = [
  { value: 'dim', text: 'dim', par: 60 },
  { value: 'medium', text: 'medium', par: 120 },
  { value: 'bright', text: 'bright', par: 220 },
] as const;

/** Above this, a difference from what it is used to calls for steps downwards too. */
const noticeable = 1.15;

/**
 * Steps from what the pieces are accustomed to, to the buyer's light, bounded by the kind's step ratio and dwell and
 * by its ceiling: a place above the ceiling is planned only up to it.
 */
export function buyersPlan(record: TagRecord, place: BuyersPlace): Plan {
  if (record.light === null || record.light.accustomed <= 0) return { kind: 'unknown' };
  const { stepRatio, dwellDays, adaptationDays, parCeiling } = record.care;
  const ceiling = parCeiling ?? Number.POSITIVE_INFINITY;
  const perPar = place.hours * MOL_PER_UMOL_HOUR;
  const target = Math.min(place.par, ceiling) * perPar;
  const ratio = target / record.light.accustomed;
  const tooBright = place.par > ceiling;
  if (!tooBright && ratio < noticeable && ratio > 1 / noticeable) return { kind: 'as-it-is', par: place.par };
  const schedule = acclimationSchedule(record.light.accustomed, target, {
    maxStepRatio: stepRatio,
    dwellDays,
    timeConstantDays: adaptationDays,
  });
  const steps = schedule.map(({ day, dailyLight }) => ({
    fromDay: Math.round(day),
    par: Math.round(dailyLight / perPar),
  }));
  return tooBright ? { kind: 'too-bright', ceiling, steps } : { kind: 'steps', up: ratio > 1, steps };
}

/** A sentence for each difference of water that matters when the pieces move; from what the buyer measured. */
export function waterWarnings(
  record: TagRecord,
  theirs: {
    alkalinityDkh?: number | undefined;
    salinity?: number | undefined;
    temperature?: number | undefined;
  },
): string[] {
  const ours = (quantity: string) => record.water.find((one) => one.quantity === quantity);
  const warnings: string[] = [];
  const salinity = ours('salinity');
  if (
    salinity?.unit === 'PSU' &&
    theirs.salinity !== undefined &&
    Math.abs(theirs.salinity - salinity.median) > 1.3
  ) {
    warnings.push(
      `Salinity differs by ${Math.abs(theirs.salinity - salinity.median).toFixed(1)}: match it first, over half an hour or more of small additions of your water.`,
    );
  }
  const alkalinity = ours('alkalinity');
  if (
    alkalinity?.unit === 'dKH' &&
    theirs.alkalinityDkh !== undefined &&
    Math.abs(theirs.alkalinityDkh - alkalinity.median) >= 1
  ) {
    warnings.push(
      `Your alkalinity differs by ${Math.abs(theirs.alkalinityDkh - alkalinity.median).toFixed(1)} dKH: keep light low for the first week, and do not change your water for it.`,
    );
  }
  const temperature = ours('temperature');
  if (
    temperature?.unit === 'degC' &&
    theirs.temperature !== undefined &&
    Math.abs(theirs.temperature - temperature.median) > 1
  ) {
    warnings.push('Your water is more than 1 °C away: float the closed bag until both are the same.');
  }
  return warnings;
}
