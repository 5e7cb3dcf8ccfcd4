import { localDay } from '../../platform/days.ts';
import {
  firstOpen,
  isRunning,
  lastDoneAt,
  type StepwisePlan,
  type StepwisePlanStep,
} from '../../platform/plans/plans.rules.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { type Correctable, type MeansCode, marginOf } from '../dosing/substances.rules.ts';
import type { Quantity } from '../quantities/quantities.ts';
import type { ExpectedCourse } from './expected-level.rules.ts';
import { type CorrectionHold, correctionHold, type NextStep } from './hold.rules.ts';
import type { Basis } from './queries.ts';
import type { WaterChemistry } from './saturation.rules.ts';
import type { Candidate } from './starting-reading.rules.ts';

/** A step of a correction. */
export interface CorrectionStep extends StepwisePlanStep {
  /** Local day planned, "2026-11-24". */
  dueOn: string;
  /** Hours after the step before, at the least; null where it is another day. */
  afterHours: number | null;
  amount: number;
  unit: 'g' | 'mL' | 'L';
  /** What it changes at once, canonical. */
  change: number;
  expectedAfter: number;
  expectedU: number;
  retest: boolean;
  doneBy: string | null;
  voided: boolean;
  note: string;
}

/** A correction as it was planned, and how far it is. */
export interface CorrectionRecord extends StepwisePlan {
  systemId: string;
  systemName: string;
  timeZone: string;
  quantity: Quantity;
  means: MeansCode;
  basis: Basis;
  reading: { id: string; at: Date; value: number };
  target: number;
  dailyCap: number;
  capSource: string;
  volumeL: number;
  reason: string;
  startsOn: string;
  by: string | null;
  finishedAt: Date | null;
  stoppedAt: Date | null;
  stopReason: string | null;
  revisesId: string | null;
  revisedById: string | null;
  steps: CorrectionStep[];
}

/** A correction with everything that decides about its next step. */
export interface CorrectionState extends CorrectionRecord {
  course: ExpectedCourse;
  readings: Candidate[];
  suspectKits: ReadonlySet<string>;
  disagreement: string | null;
  others: string[];
  outside: NextStep['outside'];
  water: WaterChemistry;
}

/** The next step to be done, if there is one. */
export const nextOpenStep = ({ steps }: Pick<CorrectionRecord, 'steps'>): CorrectionStep | null =>
  firstOpen(steps);

/** The local day on which a step may be done at the earliest: as planned, or a day after the step before it (hours after it, where it is fast). */
export function dueDay({ steps, timeZone }: CorrectionRecord, step: CorrectionStep): string {
  const last = lastDoneAt(steps);
  if (last === null) return step.dueOn;
  const dayAfter = localDay(daysAfter(last, step.afterHours === null ? 1 : step.afterHours / 24), timeZone);
  return dayAfter.localeCompare(step.dueOn) > 0 ? dayAfter : step.dueOn;
}

/** Everything the rule of holding back needs for the next step. */
export function nextStepOf(state: CorrectionState, step: CorrectionStep, now: Date): NextStep {
  return {
    quantity: state.quantity,
    now,
    step,
    course: state.course,
    target: state.target,
    margin: marginOf(state.quantity.code as Correctable),
    lastDoneAt: lastDoneAt(state.steps),
    readings: state.readings,
    suspectKits: state.suspectKits,
    disagreement: state.disagreement,
    others: state.others,
    outside: state.outside,
    usualPerDay: state.basis.usualPerDay,
    voidedStep: state.steps.some((one) => one.voided),
    water: state.water,
  };
}

/** Whether the day of a step has not come yet. */
export const isEarly = (state: CorrectionState, step: CorrectionStep, now: Date): boolean =>
  dueDay(state, step) > localDay(now, state.timeZone);

/** Why the step that is due is held back now; null when it may be done, or none is due. */
export function currentHold(state: CorrectionState, now: Date): CorrectionHold | null {
  const step = nextOpenStep(state);
  return step === null || !isRunning(state) || isEarly(state, step, now)
    ? null
    : correctionHold(nextStepOf(state, step, now));
}
