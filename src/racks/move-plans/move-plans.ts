import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import { moveLot } from '../../stock/places/placements.ts';
import type { MovePlanInput } from './move-plans.schema.ts';
import { isOpen, type MovePlanState, type MoveState, moveTitle, readMovePlans, waitsFor } from './state.ts';

const subject = (id: string) => ({ type: 'move_plan' as const, id });

/**
 * Keeps a plan of moves, to be walked one by one.
 * @throws Refusal when a lot or a slot is not of this site, or is in another running plan (409)
 */
export async function keepMovePlan(
  work: Work,
  siteId: string,
  { name, moves }: MovePlanInput,
): Promise<{ id: string }> {
  // Plans of one site are kept one after another, so that two of them never share a lot.
  await work.tx.$queryRaw`SELECT id FROM site WHERE id = ${siteId}::uuid FOR UPDATE`;
  await refuseStrangers(work, siteId, moves);
  const { id } = await work.tx.movePlan.create({
    data: { siteId, name, accountId: work.accountId, createdAt: work.now },
  });
  await work.tx.plannedMove.createMany({
    data: moves.map((move, i) => ({ ...move, planId: id, position: i + 1 })),
  });
  work.record('move_plan.kept', subject(id), { name, moves: moves.length });
  return { id };
}

async function refuseStrangers(work: Work, siteId: string, moves: MovePlanInput['moves']): Promise<void> {
  const lotIds = [...new Set(moves.map(({ lotId }) => lotId))];
  const slotIds = [...new Set(moves.flatMap((move) => move.slotIds))];
  const [{ lots, slots } = { lots: 0, slots: 0 }] = await work.tx.$queryRaw<
    { lots: number; slots: number }[]
  >`
    SELECT (SELECT count(*)::int FROM lot WHERE site_id = ${siteId}::uuid AND id = ANY(${lotIds}::uuid[])) AS lots,
           (SELECT count(*)::int FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
              JOIN system ON system.id = tank.system_id
             WHERE system.site_id = ${siteId}::uuid AND slot.id = ANY(${slotIds}::uuid[])) AS slots`;
  if (lots < lotIds.length || slots < slotIds.length)
    throw new Refusal('One of these lots or slots is not there any more. Work the plan out again.', {
      status: 409,
    });
}

/** The plan of a move, held until the change is done. @throws Refusal 404; 409 when it ended, or the move is settled */
async function lockMove(work: Work, moveId: string): Promise<{ plan: MovePlanState; move: MoveState }> {
  const row = await work.tx.plannedMove.findUnique({ where: { id: moveId }, select: { planId: true } });
  if (row === null) throw notFound('This move');
  const plan = await lockPlan(work, row.planId);
  const move = plan.moves.find(({ id }) => id === moveId);
  if (move === undefined) throw notFound('This move');
  if (!isOpen(move))
    throw new Refusal('This move was already done or left out. Open the plan again.', { status: 409 });
  return { plan, move };
}

async function lockPlan(work: Work, id: string): Promise<MovePlanState> {
  await work.tx.$queryRaw`SELECT id FROM move_plan WHERE id = ${id}::uuid FOR UPDATE`;
  const [plan] = await readMovePlans(readerOf(work.tx), { id });
  if (plan === undefined) throw notFound('This plan');
  if (plan.endedAt !== null)
    throw new Refusal('This plan has ended. Note the move on the lot itself, or plan again.', {
      status: 409,
    });
  return plan;
}

/**
 * Does a move of a plan: moves the lot and marks it done, in one change. After the last one the plan has ended.
 * @throws Refusal 409 when its place is taken, an earlier move of the lot is open, or it is settled already; what the move refuses
 */
export async function doPlannedMove(
  work: Work,
  { moveId, at, note }: { moveId: string; at: Date; note: string },
): Promise<{ planId: string; systemId: string; what: string }> {
  const { plan, move } = await lockMove(work, moveId);
  const waits = waitsFor(plan, move);
  if (waits !== null) throw new Refusal(waits, { status: 409 });
  const reason = `Move ${move.position} of “${plan.name}”`;
  const moved = await moveLot(work, { lotId: move.lotId, slotIds: move.slotIds, at, reason });
  await work.tx.plannedMove.update({
    where: { id: moveId },
    data: {
      doneAt: at,
      doneById: work.accountId,
      note,
      placementId: moved.changed ? moved.placementId : null,
    },
  });
  await settle(work, plan, move);
  const what = moveTitle(move);
  work.record('planned_move.done', subject(plan.id), { plan: plan.name, move: move.position, what, at });
  return { planId: plan.id, systemId: move.systemId, what };
}

/** Leaves a move out for good. @throws Refusal 404, 409 */
export async function leaveOutMove(
  work: Work,
  { moveId, reason }: { moveId: string; reason: string },
): Promise<{ planId: string }> {
  const { plan, move } = await lockMove(work, moveId);
  await work.tx.plannedMove.update({ where: { id: moveId }, data: { leftOutAt: work.now, note: reason } });
  await settle(work, plan, move);
  work.record('planned_move.left_out', subject(plan.id), {
    plan: plan.name,
    move: move.position,
    what: moveTitle(move),
    reason,
  });
  return { planId: plan.id };
}

/** Ends the plan when that was its last open move; counts its version on. */
async function settle(work: Work, plan: MovePlanState, last: MoveState): Promise<void> {
  const left = plan.moves.filter((move) => isOpen(move) && move.id !== last.id);
  const end = left.length > 0 ? {} : { endedAt: work.now, endReason: 'Its last move is settled.' };
  await work.tx.movePlan.update({ where: { id: plan.id }, data: { ...end, version: { increment: 1 } } });
}

/** Ends a plan; what was moved stays where it is. @throws Refusal 404; 409 when it changed meanwhile */
export async function endMovePlan(
  work: Work,
  { id, version, reason }: { id: string; version: number; reason: string },
): Promise<void> {
  const plan = await lockPlan(work, id);
  if (plan.version !== version) throw staleEdit('this plan');
  await work.tx.movePlan.update({
    where: { id },
    data: { endedAt: work.now, endReason: reason, version: { increment: 1 } },
  });
  work.record('move_plan.ended', subject(id), { name: plan.name, reason });
}
