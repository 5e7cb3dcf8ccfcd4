import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { lastDoneAt } from '../../platform/plans/plans.rules.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { say } from '../quantities/quantities.ts';
import { readCorrections } from './load.ts';
import { cautionsOf } from './side-effects.rules.ts';
import { type CorrectionState, type CorrectionStep, currentHold, dueDay, nextOpenStep } from './state.ts';
import { afterWords, correctionStepTitle, correctionTitle, expectedWords } from './view.ts';

/**
 * Steps of corrections that are due on the sites' present day (with why one is held back), those done today, and the
 * tests that corrections ask for. Eight queries, however many systems.
 */
export async function correctionTasks(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<DueTask[]> {
  const running = await readCorrections(pool, { systemIds, running: true }, now);
  return running.flatMap((state) => tasksOf(state, now));
}

function tasksOf(state: CorrectionState, now: Date): DueTask[] {
  const today = localDay(now, state.timeZone);
  const done = state.steps
    .filter((step) => step.doneAt !== null && localDay(step.doneAt, state.timeZone) === today)
    .map((step) => taskOf(state, step, { today, dueOn: today, held: null, done: true }));
  const step = nextOpenStep(state);
  if (step === null) return [...done, ...lastTest(state, today)];
  const dueOn = dueDay(state, step);
  if (dueOn > today) return done;
  const hold = currentHold(state, now);
  const task = taskOf(state, step, { today, dueOn, held: hold?.words ?? null, done: false });
  return [...done, ...(hold?.todo === 'test' ? [testOf(state, dueOn, today, hold.words)] : []), task];
}

function taskOf(
  state: CorrectionState,
  step: CorrectionStep,
  { today, dueOn, held, done }: { today: string; dueOn: string; held: string | null; done: boolean },
): DueTask {
  const { quantity, steps } = state;
  const hours = afterWords(step.afterHours);
  const expected = expectedWords(state, step.expectedAfter, step.expectedU);
  return {
    key: `correction:${step.id}`,
    work: 'correction',
    systemId: state.systemId,
    systemName: state.systemName,
    title: correctionStepTitle(state, step),
    detail: [
      `Step ${step.position} of ${steps.length}: ${nameInSentence(quantity.name)} from ${say(quantity, state.reading.value)} to ${say(quantity, state.target)}.`,
      ...(hours === null ? [] : [`${capitalized(hours)}.`]),
      `Expected before the next step: ${expected}.`,
    ],
    cautions: done ? [] : cautionsOf(state.means),
    held,
    dueOn,
    overdueDays: Math.max(0, calendarDaysBetween(dueOn, today)),
    done,
    href: `/water/corrections/${state.id}`,
  };
}

/** Once all steps are done, the test that finishes it: from the day after the last. */
function lastTest(state: CorrectionState, today: string): DueTask[] {
  const last = lastDoneAt(state.steps);
  if (last === null) return [];
  const dueOn = localDay(daysAfter(last, 1), state.timeZone);
  if (dueOn > today) return [];
  const words = `It is done when the level reads ${say(state.quantity, state.target)} or near it.`;
  return [testOf(state, dueOn, today, words)];
}

function testOf(state: CorrectionState, dueOn: string, today: string, why: string): DueTask {
  return {
    key: `retest:${state.id}`,
    work: 'test',
    systemId: state.systemId,
    systemName: state.systemName,
    title: `Test ${nameInSentence(state.quantity.name)}`,
    detail: [`Asked for by the correction “${correctionTitle(state)}”.`, why],
    cautions: [],
    held: null,
    dueOn,
    overdueDays: Math.max(0, calendarDaysBetween(dueOn, today)),
    done: false,
    href: `/water/systems/${state.systemId}/readings/new`,
  };
}
