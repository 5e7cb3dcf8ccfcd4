import type { CorrectionFact, SystemFacts } from '../../../../src/watch/facts/types.ts';
import { kitJudgements } from '../../../../src/watch/rules/levels/kit-bias.ts';
import { acuteAt } from '../../../../src/water/acute/acute-states.rules.ts';
import { planSchedule, type ScheduledStep } from '../../../../src/water/corrections/schedule.rules.ts';
import { demandDay, demandRecord } from '../../../../src/water/demand/demand-record.rules.ts';
import {
  type DemandData,
  type RateNow,
  rateNow,
  supplyOf,
} from '../../../../src/water/demand/supply.rules.ts';
import { caps, meansOf } from '../../../../src/water/dosing/substances.rules.ts';
import { dayZero, onDay } from '../../../watch/facts.ts';
import { alkalinityTarget } from '../hands/routine.ts';
import { bands } from '../truth.ts';

/** A correction of alkalinity that runs: the planner's steps, from a day of the run on. */
export interface Correction {
  fromDay: number;
  fromValue: number;
  steps: readonly ScheduledStep[];
  done: number;
  /** When each step was done, and when the correction ended. */
  doneDays: number[];
  endedDay: number | null;
}

/** The correction as the watch has it. */
export const correctionFact = (
  { fromDay, fromValue, steps, doneDays, endedDay }: Correction,
  id: string,
): CorrectionFact => ({
  ...{ id, quantityCode: 'alkalinity', substance: 'sodium-bicarbonate' },
  ...{ fromValue, target: alkalinityTarget, dailyCap: caps.alkalinity.usual },
  fromDay: dayZero + Math.floor(fromDay),
  toDay: endedDay === null ? null : dayZero + endedDay,
  steps: steps.map(({ day, after, retest }, i) => ({
    ...{ id: `${id} ${i}`, dueDay: dayZero + Math.floor(fromDay) + day, expectedAfter: after.value, retest },
    doneDay: doneDays[i] === undefined ? null : dayZero + (doneDays[i] as number),
  })),
});

/** What is used a day and not brought by water changes, by the page of demand, meq/L; null where it cannot tell. */
export function neededByDemand(facts: SystemFacts, now: number): number | null {
  const { rate } = rateOf(facts, 'alkalinity', now);
  if (rate === null) return null;
  return Math.max(0, supplyOf(rate, facts.kept.get('alkalinity')?.makeUp ?? null).gap);
}

/** What is used or made of a quantity a day, by the page of demand. */
export function rateOf(facts: SystemFacts, code: string, now: number): RateNow {
  const moment = onDay(now);
  const record: DemandData = {
    ...demandRecord(facts, code, kitJudgements(facts)),
    ...{ makeUpStated: true, correctedKits: [], unknownDoses: [], learntSince: null, hasDoser: true },
  };
  return rateNow(record, code, demandDay(facts, code, moment));
}

/** A correction up to the farm's target by the service's planner; null where it plans none, as where nothing is confirmed. */
export function planUp(facts: SystemFacts, now: number): Correction | null {
  const readings = (facts.readings.get('alkalinity') ?? []).filter(({ day }) => day > dayZero + now - 2);
  const last = readings.at(-1);
  const beside = readings.at(-2);
  if (last === undefined) return null;
  const agrees = beside !== undefined && Math.abs(beside.value - last.value) < 2.8 * last.u;
  if (last.trust !== 'confirmed' && !agrees) return null;
  const { rate } = rateOf(facts, 'alkalinity', now);
  const perDay = rate === null ? null : rate.perDay + rate.dosedPerDay;
  const [low, high] = bands.alkalinity;
  const schedule = planSchedule({
    ...{
      quantity: 'alkalinity',
      target: alkalinityTarget,
      dailyCap: caps.alkalinity.usual,
      volumeL: facts.volumeL,
    },
    from: { day: last.day, value: last.value, u: last.u },
    means: meansOf(
      'sodium-bicarbonate',
      'alkalinity',
      { purity: 1, makeUp: null, limewater: null, solution: null },
      facts.volumeL,
    ),
    drift: rate === null || perDay === null ? null : { perDay, sd: rate.sd },
    fast: acuteAt('alkalinity', last.value, { low, high })?.rate ?? null,
    startDay: dayZero + now,
  });
  if (!schedule.ok) return null;
  return {
    ...{ fromDay: now, fromValue: last.value, steps: schedule.steps },
    ...{ done: 0, doneDays: [], endedDay: null },
  };
}
