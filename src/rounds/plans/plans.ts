import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import type { DayChange } from './occurrences.rules.ts';
import type { DayInput, PlanInput, Step } from './plans.schema.ts';

/** A walk that comes back: which tanks in which order, when, and what is done on it. */
export interface Plan {
  id: string;
  siteId: string;
  name: string;
  startsAt: string;
  weekdays: number[];
  steps: Step[];
  /** What else is ticked off on it, in the farm's own words. */
  chores: string[];
  assigneeId: string | null;
  plannedSince: Date;
  pausedAt: Date | null;
  version: number;
  /** In walking order. */
  tankIds: string[];
  /** Days on which it is walked another way, in order. */
  changes: PlanDay[];
}

/** One day on which a plan is walked another way. */
export interface PlanDay extends DayChange {
  /** Who walks it on that day; null where it is who usually does. */
  assigneeId: string | null;
}

/** A tank that a walk can pass, in the farm's order. */
export interface WalkableTank {
  id: string;
  name: string;
  systemId: string;
  systemName: string;
}

export async function listWalkableTanks(db: Reader, siteId: string): Promise<WalkableTank[]> {
  const tanks = await db.tank.findMany({
    where: { system: { siteId, retiredAt: null } },
    orderBy: [
      { system: { position: 'asc' } },
      { system: { name: 'asc' } },
      { position: 'asc' },
      { name: 'asc' },
    ],
    include: { system: { select: { name: true } } },
  });
  return tanks.map(({ id, name, systemId, system }) => ({ id, name, systemId, systemName: system.name }));
}

const withParts = { tanks: { orderBy: { position: 'asc' } }, days: { orderBy: { day: 'asc' } } } as const;

type Row = Omit<Plan, 'tankIds' | 'steps' | 'changes'> & {
  steps: string[];
  tanks: { tankId: string }[];
  days: (Omit<PlanDay, 'day'> & { day: Date })[];
};

const plan = ({ tanks, steps, days, ...row }: Row): Plan => ({
  ...row,
  steps: steps as Step[],
  tankIds: tanks.map((tank) => tank.tankId),
  changes: days.map(({ day, cancelled, startsAt, assigneeId, note }) => ({
    day: day.toISOString().slice(0, 10),
    cancelled,
    startsAt,
    assigneeId,
    note,
  })),
});

/** A site's plans by their time of day. */
export async function listPlans(db: Reader, siteId: string): Promise<Plan[]> {
  const orderBy = [{ startsAt: 'asc' } as const, { name: 'asc' } as const];
  return (await db.roundPlan.findMany({ where: { siteId }, include: withParts, orderBy })).map(plan);
}

/** @throws Refusal 404 */
export async function findPlan(db: Reader, id: string): Promise<Plan> {
  const row = await db.roundPlan.findUnique({ where: { id }, include: withParts });
  if (row === null) throw notFound('This round plan');
  return plan(row);
}

const walk = (tankIds: readonly string[]) => tankIds.map((tankId, position) => ({ tankId, position }));

/** Each system on the walk has its rules evaluated: what is overdue depends on the plan. */
async function touchSystems(work: Work, tankIds: readonly string[]): Promise<void> {
  const tanks = await work.tx.tank.findMany({
    where: { id: { in: [...tankIds] } },
    select: { systemId: true },
  });
  for (const { systemId } of tanks) work.reevaluate(systemId);
}

export async function addPlan(work: Work, siteId: string, input: PlanInput): Promise<{ id: string }> {
  const { tankIds, paused, version: _fresh, ...rest } = input;
  const { id } = await work.tx.roundPlan.create({
    data: {
      ...rest,
      siteId,
      plannedSince: work.now,
      pausedAt: paused ? work.now : null,
      tanks: { create: walk(tankIds) },
    },
  });
  work.record('round_plan.created', { type: 'round_plan', id }, rest);
  await touchSystems(work, tankIds);
  return { id };
}

/** Whether a change makes the days before it no measure of what was missed. */
function plannedAnew(before: Plan, input: PlanInput): boolean {
  const resumed = before.pausedAt !== null && !input.paused;
  return resumed || before.startsAt !== input.startsAt || before.weekdays.join() !== input.weekdays.join();
}

/** Changes a plan, pauses it or takes it up again. @throws Refusal 404, 409 on a stale edit */
export async function editPlan(work: Work, id: string, input: PlanInput): Promise<void> {
  const before = await findPlan(work.tx, id);
  const { tankIds, paused, version, ...rest } = input;
  const changed = await work.tx.roundPlan.updateMany({
    where: { id, version },
    data: {
      ...rest,
      version: { increment: 1 },
      pausedAt: paused ? (before.pausedAt ?? work.now) : null,
      ...(plannedAnew(before, input) ? { plannedSince: work.now } : {}),
    },
  });
  if (changed.count === 0) throw staleEdit('this round plan');
  await work.tx.roundPlanTank.deleteMany({ where: { planId: id } });
  await work.tx.roundPlanTank.createMany({ data: walk(tankIds).map((row) => ({ planId: id, ...row })) });
  work.record('round_plan.changed', { type: 'round_plan', id }, { before, after: input });
  await touchSystems(work, [...before.tankIds, ...tankIds]);
}

/**
 * Has a plan walked another way on one day, in place of what was said of that day before.
 * @throws Refusal 404; 422 when nothing would be other than usual
 */
export async function changePlanDay(work: Work, id: string, { day, ...input }: DayInput): Promise<void> {
  const before = await findPlan(work.tx, id);
  const usual = !input.cancelled && input.startsAt === null && input.assigneeId === null;
  if (usual && before.weekdays.includes(((new Date(day).getUTCDay() + 6) % 7) + 1))
    throw new Refusal('Enter what changes on that day: the time, or who walks it.', {
      field: 'startsAt',
    });
  const key = { planId: id, day: new Date(day) };
  const row = { ...input, accountId: work.accountId };
  await work.tx.roundPlanDay.upsert({ where: { planId_day: key }, create: { ...key, ...row }, update: row });
  work.record('round_plan.day_changed', { type: 'round_plan', id }, { day, ...input });
  await touchSystems(work, before.tankIds);
}

/** What a change of one day writes over: the days of the plan that are another way. */
export const daysStanding = (planId: string): Standing => ({
  what: 'the days of this plan',
  read: async (reader) => (await findPlan(reader, planId)).changes.sort((a, b) => (a.day < b.day ? -1 : 1)),
});

/** Has a plan walked on a day as on any other. */
export async function resetPlanDay(work: Work, id: string, day: string): Promise<void> {
  const { tankIds } = await findPlan(work.tx, id);
  await work.tx.roundPlanDay.deleteMany({ where: { planId: id, day: new Date(day) } });
  work.record('round_plan.day_reset', { type: 'round_plan', id }, { day });
  await touchSystems(work, tankIds);
}
