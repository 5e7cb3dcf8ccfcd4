import { noteLevel } from '../../farm/equipment/containers.ts';
import { mendFault, noteFault } from '../../farm/equipment/faults.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import { litresNoted } from '../../platform/units/measures.ts';
import { canonicalUnits, inUnits } from '../../platform/units/units.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { lookAtEffect, unexplained } from '../log/doses.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';
import { type Doser, readDoser, recordOf } from './doser-record.ts';
import type { CalibrationInput, DoserPlanInput, LevelInput } from './dosers.schema.ts';
import { doserEffect, postDoses, reckonedOf } from './posting.ts';
import { type LevelCheck, perDayAt, SHORTFALL_BEGINS } from './reckoning.rules.ts';
import { beginBesideHeld } from './same-days.ts';

const openDoser = async (work: Work, id: string): Promise<Doser> => {
  const doser = await readDoser(readerOf(work.tx), id);
  if (doser.removed) throw new Refusal('This doser is taken out, so nothing is noted of it any more.');
  return doser;
};

/** Notes what a doser gave when it was measured, and reckons its days by it. @throws Refusal 404, 422 */
export async function calibrate(
  work: Work,
  id: string,
  { ml, runs, per, againDays, at, note }: CalibrationInput,
): Promise<Doser> {
  const doser = await openDoser(work, id);
  const data = {
    equipmentId: id,
    at,
    ml,
    runs,
    per,
    againDays,
    note,
    accountId: work.accountId,
    createdAt: work.now,
  };
  await work.tx.doserCalibration.create({ data });
  work.record('doser.calibrated', { type: 'equipment', id }, { ml, runs, per });
  await postDoses(work, id, 'By the new calibration');
  await mendShortfall(work, id, `Calibrated: ${numberWords(ml / runs, 2)} mL a ${per}`);
  return doser;
}

/** What a new plan of a doser ends, and what stopping it ends. */
export const doserPlanStanding = (equipmentId: string): Standing => ({
  what: 'what this doser gives',
  read: ({ doserPlan }) =>
    doserPlan.findMany({
      where: { equipmentId, untilAt: null },
      select: { id: true },
      orderBy: { id: 'asc' },
    }),
});

/** A doser with when its new plan begins, and how many doses of the same were there. */
export interface Planned extends Doser {
  begins: Date;
  held: number;
}

/**
 * Sets what a doser gives from a time on; the plan before ends then. An unusual one wants a reason, as a routine does.
 * Where its days hold doses of the same already it begins after them, or counts beside them, as is answered.
 * @throws Refusal 404; 422 when nobody measured a minute or stroke, when a later plan is there, or without a reason; 409 where such
 *   doses are there and nobody said whether they are the same
 */
export async function planDoser(
  work: Work,
  id: string,
  { substance, perDay, unit, at, reason, alreadyThere }: DoserPlanInput,
): Promise<Planned> {
  const doser = await openDoser(work, id);
  const plan = { fromMs: at.getTime(), untilMs: null, perDay, unit };
  const mlPerDay = perDayAt(recordOf(doser), plan, work.now.getTime());
  if (mlPerDay === null)
    throw new Refusal(
      `Measure first what a ${unit === 'minutes' ? 'minute' : 'stroke'} gives: see “Calibrate” below.`,
      { field: 'unit' },
    );
  const last = doser.plans.at(-1);
  if (last !== undefined && last.fromMs >= at.getTime())
    throw new Refusal('Another plan began at that time or later. Choose a later time.', { field: 'at' });
  const concerns = await concernsOf(work, doser, substance, mlPerDay);
  if (concerns.concerns.length > 0 && reason === '') throw unexplained(concerns, 'is set so already');
  const asked = { substance, at, mlPerDay };
  const begins = await beginBesideHeld(work, doser, asked, alreadyThere === '' ? null : alreadyThere);
  await endPlan(work, id, begins.at);
  const data = {
    equipmentId: id,
    fromAt: begins.at,
    perDay,
    unit,
    substance,
    reason,
    accountId: work.accountId,
    createdAt: work.now,
  };
  await work.tx.doserPlan.create({ data });
  work.record('doser.planned', { type: 'equipment', id }, { substance, perDay, unit, mlPerDay, reason });
  await postDoses(work, id, 'By the new plan');
  return { ...doser, begins: begins.at, held: begins.held };
}

async function concernsOf(work: Work, doser: Doser, substance: string, mlPerDay: number) {
  const system = await findOpenWaterSystem(work.tx, doser.systemId);
  const dose = { substance, amount: mlPerDay, unit: 'mL', at: work.now };
  const effect = doserEffect(doser, substance, mlPerDay);
  return lookAtEffect(work.tx, system, dose, effect, { purpose: 'routine', dailyCap: null });
}

/** Ends what runs, and what ran beyond that time; a plan that had not begun by then never runs. */
const endPlan = (work: Work, equipmentId: string, untilAt: Date): Promise<number> =>
  work.tx.$executeRaw`
    UPDATE doser_plan SET until_at = greatest(from_at, ${untilAt})
     WHERE equipment_id = ${equipmentId}::uuid AND voided_at IS NULL AND (until_at IS NULL OR until_at > ${untilAt})`;

/** Ends what a doser gives. @throws Refusal 404; 409 when nothing runs */
export async function stopDoser(work: Work, id: string): Promise<Doser> {
  const doser = await openDoser(work, id);
  if ((await endPlan(work, id, work.now)) === 0)
    throw new Refusal('No plan runs, so there is nothing to stop.', { status: 409 });
  work.record('doser.stopped', { type: 'equipment', id });
  await postDoses(work, id, 'By the plan that ended');
  return doser;
}

/** Voids a plan that was entered by mistake: the plan before it runs on in its place, and its days are reckoned anew. */
export async function voidDoserPlan(work: Work, planId: string, voidReason: string): Promise<void> {
  const voided = { voidedAt: work.now, voidReason };
  const { equipmentId, fromAt, untilAt } = await work.tx.doserPlan.update({
    where: { id: planId },
    data: voided,
  });
  await openDoser(work, equipmentId);
  await work.tx.doserPlan.updateMany({
    where: { equipmentId, voidedAt: null, untilAt: fromAt },
    data: { untilAt },
  });
  await postDoses(work, equipmentId, 'A plan was voided');
}

/** Voids a calibration that was entered by mistake, and reckons the days of its doser without it. */
export async function voidCalibration(work: Work, id: string, voidReason: string): Promise<void> {
  const voided = { voidedAt: work.now, voidReason };
  const { equipmentId } = await work.tx.doserCalibration.update({ where: { id }, data: voided });
  await openDoser(work, equipmentId);
  await postDoses(work, equipmentId, 'A calibration was voided');
}

/**
 * Notes how much is left in the container, and mends what was reckoned since the level before. A doser that gives
 * clearly less or more than it says is noted as a fault.
 * @throws Refusal 404; 422 when more is left than there was
 */
export async function noteLeft(
  work: Work,
  id: string,
  { seenL, filled, filledL, at }: LevelInput,
): Promise<{ doser: Doser; check: LevelCheck | null }> {
  const doser = await openDoser(work, id);
  const before = doser.levels.findLast(({ ms }) => ms < at.getTime());
  if (before !== undefined && seenL > before.afterL + 0.02 * (doser.reservoirL ?? before.afterL))
    throw new Refusal(
      `That is more than the ${litresNoted(before.afterL)} that were in it. If it was filled since, say so when it was.`,
      { field: 'seenL' },
    );
  await noteLevel(work, id, { seenL, afterL: filled && filledL !== null ? filledL : seenL, at });
  await postDoses(work, id, 'By the level seen in its container');
  const after = await readDoser(readerOf(work.tx), id);
  const check = reckonedOf(after, work.now).checks.find(({ ms }) => ms === at.getTime()) ?? null;
  await noteShortfall(work, doser, check);
  return { doser, check };
}

/** A difference of this share of what was reckoned is a finding; own choice: half of what a worn tube loses in a year. */
const findingShare = 0.15;

async function noteShortfall(work: Work, { id, systemId }: Doser, check: LevelCheck | null): Promise<void> {
  if (check === null || !check.differs) return;
  if (check.reckonedMl > 0 && Math.abs(check.measuredMl / check.reckonedMl - 1) < findingShare) return;
  const already = await work.tx.fault.count({
    where: { equipmentId: id, mendedAt: null, seen: { startsWith: SHORTFALL_BEGINS } },
  });
  if (already === 0)
    await noteFault(work, {
      systemId,
      equipmentId: id,
      seen: `${SHORTFALL_BEGINS} ${inUnits(canonicalUnits, () => differenceWords(check))}`,
    });
}

const ends = 'than it says';

/** "20 % less than it says", "2.50 L where nothing was reckoned". */
export function differenceWords({ measuredMl, reckonedMl }: LevelCheck): string {
  if (reckonedMl <= 0) return `${litresNoted(measuredMl / 1000)} where nothing was expected`;
  const share = measuredMl / reckonedMl - 1;
  return `${numberWords(Math.abs(share) * 100, 0)} % ${share < 0 ? 'less' : 'more'} ${ends}`;
}

/** A calibration settles what it gives too much or too little, and not what it gives while it should give nothing. */
async function mendShortfall(work: Work, equipmentId: string, how: string): Promise<void> {
  const open = await work.tx.fault.findMany({
    where: { equipmentId, mendedAt: null, seen: { startsWith: SHORTFALL_BEGINS, endsWith: ends } },
  });
  for (const { id } of open) await mendFault(work, id, how);
}
