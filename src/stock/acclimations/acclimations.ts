import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { isOpen } from '../../platform/plans/plans.rules.ts';
import { changePlan, lockForEdit } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import type { AcclimationRequest } from './acclimations.schema.ts';
import { draftByLamps } from './draft-by-lamps.ts';
import { type AcclimationDraft, draftByPlaces, type NoDraft } from './draft-by-slots.ts';
import { acclimationPlan, acclimationSubject } from './plan.ts';
import { touchSystems } from './steps.ts';

/** What a wish would become now. */
export async function draftAcclimation(
  reader: Parameters<typeof draftByPlaces>[0],
  { siteId, means }: Pick<AcclimationRequest, 'siteId' | 'means'>,
  now: Date,
): Promise<AcclimationDraft | NoDraft> {
  return means.by === 'lamps'
    ? draftByLamps(reader, siteId, means, now)
    : draftByPlaces(reader, siteId, means, now);
}

/** The steps of a draft in one line, so that what is planned is what was looked at. */
export function stepsSeen({ steps }: AcclimationDraft): string {
  return steps
    .map((step) => [step.day, step.lotId ?? '', step.slotIds.join('+'), step.percent ?? ''].join(':'))
    .join(' ');
}

/** One planner at a time: two would promise the same free slots. */
const plannersLock = 52_417;

/**
 * Plans an acclimation; its steps come on the rounds on their days.
 * @param wish with `seen`: the steps that were looked at ({@link stepsSeen}); null when nobody looked first
 * @throws Refusal when nothing safe reaches the light, a lot is in one already, or the steps are no longer those looked at (409)
 */
export async function planAcclimation(
  work: Work,
  wish: AcclimationRequest & { seen: string | null },
): Promise<{ id: string }> {
  const { tx, now } = work;
  const { siteId } = wish;
  const site = await tx.site.findUniqueOrThrow({ where: { id: siteId } });
  if (wish.startsOn < localDay(now, site.timeZone))
    throw new Refusal('Choose today or a later day to start.', { field: 'startsOn' });
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${plannersLock})`;
  const draft = await draftAcclimation(readerOf(tx), wish, now);
  if (!draft.ok) throw new Refusal(draft.refused, { field: draft.field });
  if (wish.seen !== null && wish.seen !== stepsSeen(draft))
    throw new Refusal(
      'The steps have changed since you looked: a place was taken, or the light changed. Look at them again.',
      { status: 409, field: 'seen' },
    );
  const name = wish.name === '' ? nameOf(draft) : wish.name;
  const { id } = await tx.acclimation.create({ data: { ...rowOf(work, wish, draft), name } });
  work.record('acclimation.planned', acclimationSubject(id), {
    name,
    lots: draft.lots.map((lot) => lot.code),
    to: draft.target,
    steps: draft.steps.length,
    days: draft.days,
    reason: wish.reason,
  });
  await touchSystems(
    work,
    draft.lots.map((lot) => lot.id),
  );
  return { id };
}

function rowOf(work: Work, { siteId, startsOn, reason }: AcclimationRequest, draft: AcclimationDraft) {
  const { purpose, received, fromDli, targetDli, pace } = draft;
  const start = new Date(startsOn);
  return {
    ...{ siteId, purpose, received, fromDli, targetDli, reason },
    maxStepRatio: pace.stepRatio,
    dwellDays: pace.dwellDays,
    startsOn: start,
    accountId: work.accountId,
    createdAt: work.now,
    lots: { create: draft.lots.map((lot) => ({ lotId: lot.id })) },
    steps: {
      create: draft.steps.map((step) => ({
        id: uuidv7(),
        position: step.position,
        dueOn: daysAfter(start, step.day),
        dli: step.dli,
        par: step.par,
        lotId: step.lotId,
        slotIds: [...step.slotIds],
        lampId: step.lampId,
        percent: step.percent,
      })),
    },
  };
}

/** "R46-TKR to 120 µmol/(m² s)", "6 lots to 120 µmol/(m² s)". */
function nameOf({ lots, target, purpose }: AcclimationDraft): string {
  const [only] = lots;
  const who = lots.length === 1 && only !== undefined ? only.code : `${lots.length} lots`;
  return purpose === 'recovery' ? `Recovery of ${who}` : `${who} to ${target}`;
}

interface Edit {
  id: string;
  version: number;
}

/** Holds all further steps back, with a reason. @throws Refusal 409 when it has ended, is paused, or changed meanwhile */
export async function pauseAcclimation(
  work: Work,
  { id, version, reason }: Edit & { reason: string },
): Promise<void> {
  const acclimation = await lockForEdit(work, acclimationPlan, { id, version });
  if (acclimation.pausedAt !== null) throw new Refusal('It is paused already.', { status: 409 });
  await changePlan(work, acclimationPlan, acclimation, { pausedAt: work.now, pauseReason: reason });
  work.record('acclimation.paused', acclimationSubject(id), { name: acclimation.name, reason });
  await touchSystems(
    work,
    acclimation.lots.map((lot) => lot.id),
  );
}

/**
 * Lets a paused acclimation go on: steps whose day has passed are due today, and those after them as much later.
 * @throws Refusal 409 when it is not paused, or changed meanwhile
 */
export async function resumeAcclimation(
  work: Work,
  { id, version, note }: Edit & { note: string },
): Promise<void> {
  const acclimation = await lockForEdit(work, acclimationPlan, { id, version });
  if (acclimation.pausedAt === null) throw new Refusal('It is not paused.', { status: 409 });
  const first = acclimation.steps.find(isOpen);
  const today = localDay(work.now, acclimation.timeZone);
  const late = first === undefined ? 0 : calendarDaysBetween(first.dueOn, today);
  if (late > 0)
    await work.tx.$executeRaw`
      UPDATE acclimation_step SET due_on = due_on + ${late}::int
       WHERE acclimation_id = ${id}::uuid AND done_at IS NULL AND left_out_at IS NULL`;
  await changePlan(work, acclimationPlan, acclimation, { pausedAt: null, pauseReason: null });
  work.record('acclimation.resumed', acclimationSubject(id), {
    name: acclimation.name,
    was: acclimation.pauseReason,
    note,
  });
  await touchSystems(
    work,
    acclimation.lots.map((lot) => lot.id),
  );
}

/** Ends an acclimation for good, with a reason; what was done stays. @throws Refusal 409 when it has ended or changed */
export async function endAcclimation(
  work: Work,
  { id, version, reason }: Edit & { reason: string },
): Promise<void> {
  const acclimation = await lockForEdit(work, acclimationPlan, { id, version });
  await changePlan(work, acclimationPlan, acclimation, { endedAt: work.now, endReason: reason });
  work.record('acclimation.ended', acclimationSubject(id), { name: acclimation.name, reason });
  await touchSystems(
    work,
    acclimation.lots.map((lot) => lot.id),
  );
}
