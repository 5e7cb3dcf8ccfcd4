import { uuidv7 } from 'uuidv7';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { type FormState, freshForm } from '../../platform/web/forms.ts';
import { lowered } from '../../platform/words/capitals.ts';
import { inputNumber, plural } from '../../platform/words/numbers.ts';
import { dayWords } from '../../platform/words/times.ts';
import type { RoundSheet } from '../round/round-sheet.ts';

/** The work of one system on a round: tests, which are done on the bench form, and what is ticked off; `form` as it came back. */
export function systemTasks(
  { tasks, now, timeZone }: Pick<RoundSheet, 'tasks' | 'now' | 'timeZone'>,
  systemId: string,
  form: FormState = freshForm(),
) {
  const here = tasks.filter((task) => task.systemId === systemId);
  const late = ({ overdueDays, dueOn }: DueTask) =>
    overdueDays > 0 ? `overdue since ${dayWords(dueOn, timeZone, now)}` : '';
  const rows = here.map((task) => ({
    ...task,
    late: late(task),
    entryId: uuidv7(),
    amount: task.amount ?? null,
    ...typedOf(task, form),
    pumpsOffMin: pumpsOff(task),
  }));
  const isTest = ({ work }: Pick<DueTask, 'work'>) => work === 'test';
  return { tests: rows.filter(isTest), ticks: rows.filter((task) => !isTest(task)) };
}

/** What was typed for a piece of work and came back, with what is wrong with it; else what is planned. */
function typedOf({ key, amount }: DueTask, { typed, errors }: FormState) {
  if (typed.kind !== 'task' || typed.key !== key)
    return { typed: amount == null ? '' : inputNumber(amount.value), error: null };
  const error = errors.find(({ field }) => field === 'amount') ?? errors[0];
  return { typed: String(typed.amount ?? ''), error: error?.message ?? null };
}

const pumpsOff = ({ pumpsOffMin }: DueTask) => (pumpsOffMin == null ? '' : String(pumpsOffMin));

/** What is still to be done in a system: "2 tests due", "change 180 L of water", "3 tasks due, 1 held back". */
export function dueWords(tasks: readonly DueTask[]): {
  tests: string | null;
  ticks: string | null;
  open: number;
} {
  const undone = tasks.filter((task) => !task.done);
  const tests = undone.filter((task) => task.work === 'test');
  const held = undone.filter((task) => task.held !== null).length;
  const ticks = undone.filter((task) => task.work !== 'test' && task.held === null);
  const [only] = ticks;
  const said =
    ticks.length === 1 && only !== undefined ? lowered(only.title) : plural(ticks.length, 'task', 'tasks');
  const parts = [ticks.length === 0 ? '' : `${said} due`, held === 0 ? '' : `${held} held back`];
  return {
    tests: tests.length === 0 ? null : `${plural(tests.length, 'test', 'tests')} due`,
    ticks: parts.filter((part) => part !== '').join(', ') || null,
    open: tests.length + ticks.length,
  };
}
