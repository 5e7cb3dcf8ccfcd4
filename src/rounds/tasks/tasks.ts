import type pg from 'pg';
import { noteCircuitTest, noteUpkeep } from '../../farm/equipment/upkeep.ts';
import { upkeepTasks } from '../../farm/equipment/upkeep-tasks.ts';
import { noteLooked } from '../../farm/looks/looks.ts';
import { lookTasks } from '../../farm/looks/tasks.ts';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { doPlannedMove } from '../../racks/move-plans/move-plans.ts';
import { LIFT_CAUTION, MOVE_CAUTIONS, moveTitle } from '../../racks/move-plans/state.ts';
import { dueMoves } from '../../racks/move-plans/tasks.ts';
import { doAcclimationStep } from '../../stock/acclimations/steps.ts';
import { type DueAcclimationStep, dueAcclimationSteps } from '../../stock/acclimations/tasks.ts';
import { acclimationStepTitle, cautionWords } from '../../stock/acclimations/view.ts';
import { healingTasks, tickHealing } from '../../stock/cutting/healing-tasks.ts';
import { lookForPest, pestTasks } from '../../stock/pests/tasks.ts';
import { doCorrectionStep } from '../../water/corrections/steps.ts';
import { calibrationTasks } from '../../water/dosers/tasks.ts';
import { dueWork } from '../../water/due/due-work.ts';
import { dayTemperatures } from '../../water/record/temperatures.ts';
import { doRoutine } from '../../water/routines/tasks.ts';

/** How a piece of due work was ticked off: `amount` where it was another than planned. */
export interface Ticked {
  at: Date;
  amount: number | null;
  note: string;
}

/** What became of it; `feedingId` where it began a feeding, whose pumps may be off. */
export interface TaskDone {
  systemId: string;
  feedingId: string | null;
  what: string;
}

/** Whatever knows of work that is due in systems. */
const sources: readonly ((pool: pg.Pool, systemIds: readonly string[], now: Date) => Promise<DueTask[]>)[] = [
  dueWork,
  lightTasks,
  moveTasks,
  upkeepTasks,
  calibrationTasks,
  lookTasks,
  healingTasks,
  (pool, systemIds, now) => pestTasks(pool, systemIds, now, dayTemperatures),
];

/** Who does a piece of work, by the first part of its key. Where its water asks for a reason, the note is the reason. */
const doers: Readonly<Record<string, (work: Work, id: string, ticked: Ticked) => Promise<TaskDone>>> = {
  routine: (work, routineId, ticked) => doRoutine(work, { routineId, ...ticked }),
  correction: (work, stepId, { at, note }) => doCorrectionStep(work, { stepId, at, note }),
  light: async (work, stepId, { at, note }) => ({
    ...(await doAcclimationStep(work, { stepId, at, note, despite: note })),
    feedingId: null,
  }),
  service: (work, id, ticked) => doUpkeep(work, id, 'service', ticked),
  test: (work, id, ticked) => doUpkeep(work, id, 'test', ticked),
  circuit: async (work, id, { at, note }) => {
    const { name } = await noteCircuitTest(work, id, { at, note });
    const on = await work.tx.equipment.findFirst({ where: { circuitId: id, removedAt: null } });
    if (on === null) throw new Refusal('No equipment is on this circuit any more.');
    return { systemId: on.systemId, feedingId: null, what: `Protection of ${name} tested` };
  },
  look: async (work, id, { at, note }) => {
    const { systemId, title } = await noteLooked(work, id, { at, note });
    return { systemId, feedingId: null, what: title };
  },
  pest: async (work, id, { at, note }) => {
    const { systemId, what } = await lookForPest(work, id, { at, note, found: 0 }, dayTemperatures);
    return { systemId, feedingId: null, what };
  },
  healing: async (work, id, { at, note }) => ({
    ...(await tickHealing(work, id, { at, note })),
    feedingId: null,
  }),
  move: async (work, moveId, { at, note }) => ({
    ...(await doPlannedMove(work, { moveId, at, note, despite: note })),
    feedingId: null,
  }),
};

async function doUpkeep(
  work: Work,
  id: string,
  kind: 'service' | 'test',
  { at, note }: Ticked,
): Promise<TaskDone> {
  const { systemId, name } = await noteUpkeep(work, id, { kind, at, note });
  return { systemId, feedingId: null, what: `${name} ${kind === 'test' ? 'tested' : 'serviced'}` };
}

/** The work due in these systems today, with what was done of it. */
export async function tasksDue(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  if (systemIds.length === 0) return [];
  return (await Promise.all(sources.map((source) => source(pool, systemIds, now)))).flat();
}

const uuid = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;

/** Does a piece of due work by its key. @throws Refusal what cannot be ticked off, or is held back, with the reason */
export async function doTask(work: Work, key: string, ticked: Ticked): Promise<TaskDone> {
  const [kind = '', id = ''] = key.split(':');
  const doer = doers[kind];
  if (doer === undefined || !uuid.test(id))
    throw new Refusal('The service does not know this work. Open the round again.');
  return doer(work, id, ticked);
}

/** Steps of acclimations as work on a round: a lot is moved, or lamps are turned. */
export async function lightTasks(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  const due = await dueAcclimationSteps(pool, systemIds, now);
  if (due.length === 0) return [];
  const names = await pool.query<{ id: string; name: string }>(
    'SELECT id, name FROM system WHERE id = ANY($1::uuid[])',
    [systemIds],
  );
  const nameOf = new Map(names.rows.map(({ id, name }) => [id, name]));
  return due.map((one) => taskOf(one, nameOf.get(one.systemId) ?? ''));
}

function taskOf(
  { acclimation, step, systemId, held, done, overdueDays }: DueAcclimationStep,
  systemName: string,
): DueTask {
  const last = Math.max(...acclimation.steps.map((one) => one.position));
  const light =
    step.par === null ? '' : ` Its light there: about ${numberWords(Math.round(step.par))} µmol/(m² s).`;
  return {
    key: `light:${step.id}`,
    work: 'light',
    systemId,
    systemName,
    title: acclimationStepTitle(step),
    detail: [`Step ${step.position} of ${last}: ${acclimation.name}.${step.lampId === null ? light : ''}`],
    cautions: done ? [] : [cautionWords(step.lampId !== null)],
    held,
    dueOn: step.dueOn,
    overdueDays,
    done,
    href: `/stock/acclimations/${acclimation.id}`,
  };
}

/** Moves of plans as work on a round, each once its place is free. */
export async function moveTasks(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  const due = await dueMoves(pool, systemIds, now);
  return due.map(({ plan, move, held, done, dueOn, overdueDays }): DueTask => {
    const from = move.stands === '' ? 'It has no slot now.' : `It is in ${move.stands} now.`;
    const step = `Move ${move.position} of ${plan.moves.length}: ${plan.name}.`;
    return {
      key: `move:${move.id}`,
      work: 'move',
      systemId: move.systemId,
      systemName: move.systemName,
      title: moveTitle(move),
      detail: done ? [step] : [`${move.kind}. ${from}`, move.why, step].filter((line) => line !== ''),
      cautions: done ? [] : move.place === '' ? [LIFT_CAUTION] : MOVE_CAUTIONS,
      held,
      dueOn,
      overdueDays,
      done,
      href: `/moves/${plan.id}`,
    };
  });
}
