import type { Work } from '../change.ts';
import { readerOf, type SqlReader } from '../database/sql-reader.ts';
import { notFound, Refusal, staleEdit } from '../refusal.ts';
import type { Tx } from '../service.ts';
import { isOpen, isRunning, type StepwisePlan, type StepwisePlanStep } from './plans.rules.ts';

/** A table by Prisma, as far as plans write to it. */
interface Table {
  update(change: { where: { id: string }; data: object }): Promise<unknown>;
}

/** What an area tells of its plans, so that all kinds are locked, changed and ended in one way. */
export interface PlanKind<P extends StepwisePlan, S extends StepwisePlanStep> {
  /** "correction" and "step", as sentences call them. */
  planName: string;
  stepName: string;
  /** SQL that locks the plan of id $1, and that finds the plan of the step of id $1 as `id`. */
  lockQuery: string;
  planOfStepQuery: string;
  plans(tx: Tx): Table;
  steps(tx: Tx): Table;
  /** The plan as it stands, judged by what was known at `at`. */
  read(reader: SqlReader, id: string, at: Date): Promise<P | undefined>;
  stepsOf(plan: P): readonly S[];
  /** The steps whose turn has come by their order. */
  nextSteps(plan: P): readonly S[];
  refusals: {
    /** Of a change of a plan that has ended, and of one of its steps. */
    ended: string;
    endedStep: string;
    /** Of a step that was done or left out already, and of one before which another comes. */
    settled(step: S): string;
    notNext: string;
  };
  /** What is written when its last step is settled; null when something else ends it. */
  atLastStep: { endReason: string; [column: string]: unknown } | null;
}

const conflict = (message: string) => new Refusal(message, { status: 409 });

/** Waits for whoever else changes this plan, then reads it. @throws Refusal 404 */
async function lockPlan<P extends StepwisePlan, S extends StepwisePlanStep>(
  { tx }: Work,
  kind: PlanKind<P, S>,
  id: string,
  at: Date,
): Promise<P> {
  const reader = readerOf(tx);
  await reader.query(kind.lockQuery, [id]);
  const plan = await kind.read(reader, id, at);
  if (plan === undefined) throw notFound(`This ${kind.planName}`);
  return plan;
}

/** A running plan, held until the change is done. @throws Refusal 404; 409 when it has ended */
export async function lockRunning<P extends StepwisePlan, S extends StepwisePlanStep>(
  work: Work,
  kind: PlanKind<P, S>,
  id: string,
): Promise<P> {
  const plan = await lockPlan(work, kind, id, work.now);
  if (!isRunning(plan)) throw conflict(kind.refusals.ended);
  return plan;
}

/** A running plan for an edit of a page that showed `version`. @throws Refusal 404; 409 when it has ended or changed */
export async function lockForEdit<P extends StepwisePlan, S extends StepwisePlanStep>(
  work: Work,
  kind: PlanKind<P, S>,
  { id, version }: { id: string; version: number },
): Promise<P> {
  const plan = await lockRunning(work, kind, id);
  refuseStale(kind, plan, version);
  return plan;
}

/** @throws Refusal 409 when the page was drawn before the last change */
export function refuseStale<P extends StepwisePlan, S extends StepwisePlanStep>(
  { planName }: PlanKind<P, S>,
  plan: P,
  version: number,
): void {
  if (plan.version !== version) throw staleEdit(`this ${planName}`);
}

/**
 * A step whose turn has come, with its plan, held until the change is done.
 * @param at the plan is judged by what was known then
 * @throws Refusal 404; 409 when the step is settled, the plan has ended, or another step comes first
 */
export async function lockStep<P extends StepwisePlan, S extends StepwisePlanStep>(
  work: Work,
  kind: PlanKind<P, S>,
  stepId: string,
  at: Date = work.now,
): Promise<{ plan: P; step: S }> {
  const [row] = (await readerOf(work.tx).query<{ id: string }>(kind.planOfStepQuery, [stepId])).rows;
  if (row === undefined) throw notFound(`This ${kind.stepName}`);
  const plan = await lockPlan(work, kind, row.id, at);
  const step = kind.stepsOf(plan).find(({ id }) => id === stepId);
  if (step === undefined) throw notFound(`This ${kind.stepName}`);
  // First: somebody who taps twice must not be told to log by itself what was logged with the step.
  if (!isOpen(step)) throw conflict(kind.refusals.settled(step));
  if (!isRunning(plan)) throw conflict(kind.refusals.endedStep);
  if (!kind.nextSteps(plan).some(({ id }) => id === stepId)) throw conflict(kind.refusals.notNext);
  return { plan, step };
}

/** Writes to a plan and counts its version on. */
export async function changePlan<P extends StepwisePlan, S extends StepwisePlanStep>(
  { tx }: Work,
  kind: PlanKind<P, S>,
  { id }: P,
  data: object = {},
): Promise<void> {
  await kind.plans(tx).update({ where: { id }, data: { ...data, version: { increment: 1 } } });
}

/**
 * Marks a locked step done, or left out, and counts the plan's version on; ends the plan when that was its last step.
 * @returns whether the plan has ended with it
 */
async function settleStep<P extends StepwisePlan, S extends StepwisePlanStep>(
  work: Work,
  kind: PlanKind<P, S>,
  { plan, step }: { plan: P; step: S },
  data: object,
): Promise<{ ended: boolean }> {
  await kind.steps(work.tx).update({ where: { id: step.id }, data });
  const open = kind.stepsOf(plan).filter((one) => isOpen(one) && one.id !== step.id);
  const ended = kind.atLastStep !== null && open.length === 0;
  await changePlan(work, kind, plan, ended ? { endedAt: work.now, ...kind.atLastStep } : {});
  return { ended };
}

/** Marks a locked step done at a time, with what its area keeps of it. @returns whether the plan has ended with it */
export function completeStep<P extends StepwisePlan, S extends StepwisePlanStep>(
  work: Work,
  kind: PlanKind<P, S>,
  locked: { plan: P; step: S },
  done: { at: Date; note: string; [column: string]: unknown },
): Promise<{ ended: boolean }> {
  const { at, ...kept } = done;
  return settleStep(work, kind, locked, { ...kept, doneAt: at, doneById: work.accountId });
}

/**
 * Leaves a step out for good, with the reason.
 * @param version that the page showed; null where no version is asked for
 * @throws Refusal as {@link lockStep}; 409 when the plan changed meanwhile
 */
export async function leaveStepOut<P extends StepwisePlan, S extends StepwisePlanStep>(
  work: Work,
  kind: PlanKind<P, S>,
  { stepId, version, reason }: { stepId: string; version: number | null; reason: string },
): Promise<{ plan: P; step: S; ended: boolean }> {
  const locked = await lockStep(work, kind, stepId);
  if (version !== null) refuseStale(kind, locked.plan, version);
  const { ended } = await settleStep(work, kind, locked, { leftOutAt: work.now, note: reason });
  return { ...locked, ended };
}
