import type { Work } from '../../platform/change.ts';
import { changePlan, completeStep, leaveStepOut, lockForEdit, lockStep } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { passTroubles } from '../../stock/pests/troubles.ts';
import { moveLot } from '../../stock/places/placements.ts';
import type { MovePlanInput } from './move-plans.schema.ts';
import { movePlan, movePlanSubject } from './plan.ts';
import { moveTitle, waitsFor } from './state.ts';

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
  work.record('move_plan.kept', movePlanSubject(id), { name, moves: moves.length });
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
             WHERE system.site_id = ${siteId}::uuid AND slot.id = ANY(${slotIds}::uuid[])
               AND slot.row <= rack.rows AND slot."column" <= rack.columns) AS slots`;
  if (lots < lotIds.length || slots < slotIds.length)
    throw new Refusal('One of these lots or slots is not there any more. Work the plan out again.', {
      status: 409,
    });
}

/**
 * Does a move of a plan: moves the lot and marks it done, in one change. After the last one the plan has ended.
 * @param despite why it is done while an alert is open on its water; asked for only then
 * @throws Refusal 409 when its place is taken, an earlier move of the lot is open, or it is settled already; beside "despite" where
 * a reason is asked for; what the move refuses
 */
export async function doPlannedMove(
  work: Work,
  { moveId, at, note, despite }: { moveId: string; at: Date; note: string; despite: string },
): Promise<{ planId: string; systemId: string; what: string }> {
  const { plan, step: move } = await lockStep(work, movePlan, moveId);
  const waits = waitsFor(plan, move);
  if (waits !== null) throw new Refusal(waits, { status: 409 });
  const { lotId, slotIds, code } = move;
  await passTroubles(work, [{ lotId, code, slotIds }], { despite });
  const reason = `Move ${move.position} of “${plan.name}”`;
  const moved = await moveLot(work, { lotId, slotIds, at, reason, despite });
  const placementId = moved.changed ? moved.placementId : null;
  await completeStep(work, movePlan, { plan, step: move }, { at, note, placementId });
  const what = moveTitle(move);
  work.record('planned_move.done', movePlanSubject(plan.id), {
    plan: plan.name,
    move: move.position,
    what,
    at,
  });
  return { planId: plan.id, systemId: move.systemId, what };
}

/** Leaves a move out for good. @throws Refusal 404, 409 */
export async function leaveOutMove(
  work: Work,
  { moveId, reason }: { moveId: string; reason: string },
): Promise<{ planId: string }> {
  const left = await leaveStepOut(work, movePlan, { stepId: moveId, version: null, reason });
  const { plan, step: move } = left;
  work.record('planned_move.left_out', movePlanSubject(plan.id), {
    plan: plan.name,
    move: move.position,
    what: moveTitle(move),
    reason,
  });
  return { planId: plan.id };
}

/** Ends a plan; what was moved stays where it is. @throws Refusal 404; 409 when it changed meanwhile */
export async function endMovePlan(
  work: Work,
  { id, version, reason }: { id: string; version: number; reason: string },
): Promise<void> {
  const plan = await lockForEdit(work, movePlan, { id, version });
  await changePlan(work, movePlan, plan, { endedAt: work.now, endReason: reason });
  work.record('move_plan.ended', movePlanSubject(id), { name: plan.name, reason });
}
