import type { NitrateState } from '../../science/filter/nitrate-types.ts';
import type { NitrateEstimate } from '../estimates/nitrate.rules.ts';
import type { DemandRate, WeeklyRate } from './rate.rules.ts';
import { noChangeLogged, type RateNow } from './supply.rules.ts';

/** The last reading may be this old, days, as with every other rate: four windows of 28 days. */
const oldest = 112;
/** Nineteen in twenty of a normal distribution. */
const coverage = 1.96;

/** What is made of nitrate a day, by the one estimate of it, in the form that all rates have; or why it is not known. */
export function nitrateRate(estimate: NitrateEstimate | null, nowDay: number): RateNow {
  if (estimate === null) return { rate: null, why: 'no reading of it can be relied on' };
  const { state, toDay, knowsProduction } = estimate;
  if (!knowsProduction) return { rate: null, why: noChangeLogged };
  const age = Math.round(nowDay - toDay);
  if (age > oldest) return { rate: null, why: `the last reading is ${age} days old` };
  if (estimate.readings < 2) return { rate: null, why: 'only one reading can be relied on' };
  return { rate: rateOfState(state, estimate), days: Math.round(state.historyDays) };
}

/** What was made a day at the end of each of the last weeks, by the same estimate; the last one is the present rate. */
export function weeklyNitrateRates(
  estimate: NitrateEstimate | null,
  { nowDay, weeks }: { nowDay: number; weeks: number },
): WeeklyRate[] {
  const history = estimate?.knowsProduction ? estimate.track.history : [];
  return Array.from({ length: weeks }, (_, i) => {
    const day = nowDay - 7 * (weeks - 1 - i);
    if (i === weeks - 1) return { day, rate: nitrateRate(estimate, nowDay).rate };
    const until = history.findLastIndex((step) => step.day <= day);
    const state = until < 1 ? undefined : history[until];
    if (estimate === null || state === undefined || day - state.day > oldest) return { day, rate: null };
    return { day, rate: rateOfState(state, { ...estimate, toDay: state.day, readings: until + 1 }) };
  });
}

function rateOfState(
  state: NitrateState,
  { fromDay, toDay, readings }: Pick<NitrateEstimate, 'fromDay' | 'toDay' | 'readings'>,
): DemandRate {
  const { production, productionSd, level, levelSd, levelProductionCov, habit } = state;
  return {
    perDay: production,
    sd: productionSd,
    low: production - coverage * productionSd,
    high: production + coverage * productionSd,
    fromDay,
    toDay,
    readings,
    level,
    last: { level, sd: levelSd, cov: levelProductionCov },
    dosedPerDay: habit.addition,
    changedPerDay: habit.exchange,
    leftOut: new Map(),
  };
}
