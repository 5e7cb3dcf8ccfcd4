import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { whyNotBegun } from '../plans/occurrences.rules.ts';
import { findPlan, type Plan } from '../plans/plans.ts';
import { passedRacks } from './rack-lots.ts';
import type { Begin } from './rounds.schema.ts';

/** One walk with its plan. */
export interface RoundWithPlan {
  id: string;
  /** Local day. */
  day: string;
  startedAt: Date;
  startedById: string | null;
  finishedAt: Date | null;
  plan: Plan;
}

/** @throws Refusal 404 */
export async function findRound(db: Reader, id: string): Promise<RoundWithPlan> {
  const round = await db.round.findUnique({ where: { id } });
  if (round === null) throw notFound('This round');
  const { planId, day, ...rest } = round;
  return { ...rest, day: day.toISOString().slice(0, 10), plan: await findPlan(db, planId) };
}

/**
 * Begins a plan's round of a local day. Asked for twice, or by two people at once, it is one round. Who begins a round
 * that looks at racks gets its first rack as well.
 * @throws Refusal 404; 409 when its day is over or still to come, or the plan is paused
 */
export async function beginRound(
  work: Work,
  site: { id: string; timeZone: string },
  { planId, day }: Begin,
): Promise<{ id: string; firstRackId: string | null }> {
  const plan = await findPlan(work.tx, planId);
  if (plan.siteId !== site.id) throw notFound('This round plan');
  const where = { planId_day: { planId, day: new Date(day) } };
  const there = await work.tx.round.findUnique({ where });
  const why = there === null ? whyNotBegun(plan, day, site.timeZone, work.now) : null;
  if (why !== null) throw new Refusal(why, { status: 409 });
  const row = { id: uuidv7(), planId, day: new Date(day), startedAt: work.now, startedById: work.accountId };
  const { count } = await work.tx.round.createMany({ data: [row], skipDuplicates: true });
  const { id } = await work.tx.round.findUniqueOrThrow({ where });
  work.record(count === 1 ? 'round.begun' : 'round.joined', { type: 'round', id }, { plan: plan.name, day });
  if (count === 1) await touchSystems(work, plan);
  const racks =
    count === 1 && plan.steps.includes('look') ? await passedRacks(work.tx, planId, work.now) : [];
  return { id, firstRackId: racks[0]?.id ?? null };
}

async function touchSystems(work: Work, plan: Plan): Promise<void> {
  const tanks = await work.tx.tank.findMany({
    where: { id: { in: plan.tankIds } },
    select: { systemId: true },
  });
  for (const { systemId } of tanks) work.reevaluate(systemId);
}

/**
 * Ends a round at a moment; ended twice it stays as it was ended first. What a tablet still holds is taken afterwards
 * too.
 * @returns whether it ran until now
 */
export async function endRound(
  work: Work,
  { id, planId }: { id: string; planId: string },
  at: Date,
): Promise<boolean> {
  const { count } = await work.tx.round.updateMany({
    where: { id, finishedAt: null },
    data: { finishedAt: at },
  });
  if (count === 1) await touchSystems(work, await findPlan(work.tx, planId));
  work.record(count === 1 ? 'round.finished' : 'round.finished_again', { type: 'round', id }, {});
  return count === 1;
}
