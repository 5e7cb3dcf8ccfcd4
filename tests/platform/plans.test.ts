import { describe, expect, test } from 'vitest';
import {
  beforePlanned,
  doneWords,
  firstOpen,
  isOpen,
  isRunning,
  lastDoneAt,
  openInSql,
  type StepwisePlanStep,
} from '../../src/platform/plans/plans.rules.ts';

const at = (time: string) => new Date(`2026-11-24T${time}Z`);
const step = (position: number, change: Partial<StepwisePlanStep> = {}): StepwisePlanStep => ({
  id: `step ${position}`,
  position,
  doneAt: null,
  leftOutAt: null,
  ...change,
});

describe('a step of a plan', () => {
  test.for([
    ['neither done nor left out', {}, true],
    ['done', { doneAt: at('09:00') }, false],
    ['left out', { leftOutAt: at('09:00') }, false],
  ] as const)('%s', ([, change, open]) => {
    expect(isOpen(step(1, change))).toBe(open);
  });

  test('comes next when every step before it is done or left out', () => {
    const steps = [step(1, { doneAt: at('09:00') }), step(2, { leftOutAt: at('10:00') }), step(3), step(4)];
    expect(firstOpen(steps)?.position).toBe(3);
    expect(firstOpen(steps.slice(0, 2))).toBeNull();
  });

  test('was last done when the latest of them was, whatever their order', () => {
    expect(lastDoneAt([])).toBeNull();
    expect(lastDoneAt([step(1), step(2)])).toBeNull();
    const steps = [step(1, { doneAt: at('11:00') }), step(2, { doneAt: at('09:00') }), step(3)];
    expect(lastDoneAt(steps)).toEqual(at('11:00'));
  });

  test.for([
    ['an hour after its plan was made', '10:00', null],
    ['in the minute its plan was made, as a form tells it', '08:59', null],
    ['five minutes before its plan, as by a slow clock', '08:55', null],
    ['more than five minutes before its plan', '08:54', 'It cannot be done before it was planned.'],
  ] as const)('done %s', ([, time, refused]) => {
    const words = beforePlanned({ createdAt: at('09:00') }, at(time));
    if (refused === null) expect(words).toBeNull();
    else expect(words).toContain(refused);
  });
});

describe('a plan', () => {
  test('runs until it has ended', () => {
    expect(isRunning({ endedAt: null })).toBe(true);
    expect(isRunning({ endedAt: at('09:00') })).toBe(false);
  });

  test('says how many of its steps are done; those left out count among all', () => {
    expect(doneWords([step(1, { doneAt: at('09:00') }), step(2, { leftOutAt: at('10:00') }), step(3)])).toBe(
      '1 of 3 steps done',
    );
    expect(doneWords([step(1)])).toBe('0 of 1 step done');
  });

  test('is asked for open steps in SQL as in code', () => {
    expect(openInSql('step')).toBe('(step.done_at IS NULL AND step.left_out_at IS NULL)');
  });
});
