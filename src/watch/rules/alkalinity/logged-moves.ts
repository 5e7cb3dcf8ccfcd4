import type { SwingReading } from '../../../science/filter/swing.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { demandRecord } from '../../../water/demand/demand-record.rules.ts';
import type { DemandLog } from '../../../water/demand/rate.rules.ts';
import { windowDays } from '../../../water/demand/supply.rules.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { plannedShift, type Shift } from '../levels/correction-offset.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { mergeRepeats } from '../levels/spacing.ts';

/** Tests beside what people did to the water. */
export interface BesideTheLog {
  /** Beside what corrections planned alone. */
  asRead: readonly SwingReading[];
  tests: readonly SwingReading[];
  /** What was taken out of the tests of a day, and whether by the log or by the plan of a correction. */
  shift: Shift;
  of: 'log' | 'plan';
}

/**
 * Alkalinity tests with what the log says was put in taken out; where no dose is logged, with what corrections planned, whose steps
 * stand in the log of doses too.
 */
export function besideTheLog(facts: SystemFacts, readings: readonly ReadingFact[], now: Date): BesideTheLog {
  const planned = plannedShift(facts.corrections, 'alkalinity', dayOf(now));
  const asRead = mergeRepeats(readings.map((one) => ({ ...one, value: one.value - planned(one.day) })));
  const { log } = demandRecord(facts, 'alkalinity', kitJudgements(facts));
  if (log.doses.length === 0) return { asRead, tests: asRead, shift: planned, of: 'plan' };
  const read = mergeRepeats(readings);
  const moves = loggedMoves(read, log);
  const tests = read.map((test, i) => ({ ...test, value: test.value - (moves[i] ?? 0) }));
  const shift: Shift = (day) => moves[read.findLastIndex((test) => test.day <= day)] ?? 0;
  return { asRead, tests, shift, of: 'log' };
}

/** Days of tests before one by which it is known what is used; the least of them, as a part. Own choice. */
const useDays = windowDays.alkalinity ?? 14;
const leastPart = 0.5;

/** What the log says of the time between a test and the one before. */
interface Between {
  day: number;
  gap: number;
  /** Rise by what was put in, by doses and by changes of water. */
  put: number;
  /** What was used meanwhile, test error and swing in it; null across a change of bottles. */
  used: number | null;
}

/**
 * By test, how far what people and dosers put in by the log has moved the level since the first one, beside what was used of
 * late: a dose by hand, a doser turned up or stopped, a change of water. All 0 where nothing is logged. What does not stand in
 * the log, or went in otherwise than it says, is left to the tests.
 */
export function loggedMoves(
  tests: readonly SwingReading[],
  log: Pick<DemandLog, 'doses' | 'changes' | 'makeUp'>,
): number[] {
  if (log.doses.length === 0) return tests.map(() => 0);
  const steps = betweenTests(tests, log);
  const known = { from: 0, days: 0, used: 0 };
  let moved = 0;
  const moves = steps.map((step, i) => {
    while ((steps[known.from]?.day ?? step.day) <= step.day - useDays) {
      take(known, steps[known.from], -1);
      known.from += 1;
    }
    if (known.days >= leastPart * useDays) moved += step.put - (known.used / known.days) * step.gap;
    take(known, steps[i], 1);
    return moved;
  });
  return tests.length === 0 ? [] : [0, ...moves];
}

function take(known: { days: number; used: number }, step: Between | undefined, sign: 1 | -1): void {
  if (step === undefined || step.used === null) return;
  known.days += sign * step.gap;
  known.used += sign * step.used;
}

function betweenTests(
  tests: readonly SwingReading[],
  { doses, changes, makeUp }: Pick<DemandLog, 'doses' | 'changes' | 'makeUp'>,
): Between[] {
  const dosed = during(doses);
  const changed = during(changes);
  return tests.slice(1).map((test, i) => {
    const before = tests[i] as SwingReading;
    const byDoses = dosed(before.day, test.day).reduce((sum, { rise }) => sum + rise, 0);
    const byChanges = changed(before.day, test.day).reduce(
      (sum, one) => sum + one.fraction * ((one.makeUp ?? makeUp ?? before.value) - before.value),
      0,
    );
    const put = byDoses + byChanges;
    const used = test.otherKit ? null : put - (test.value - before.value);
    return { day: test.day, gap: test.day - before.day, put, used };
  });
}

/** What happened from one moment on and before another; to be asked in order of time. */
function during<T extends { day: number }>(all: readonly T[]): (from: number, to: number) => T[] {
  const sorted = [...all].sort((a, b) => a.day - b.day);
  let next = 0;
  return (from, to) => {
    while ((sorted[next]?.day ?? Number.POSITIVE_INFINITY) < from) next += 1;
    const first = next;
    while ((sorted[next]?.day ?? Number.POSITIVE_INFINITY) < to) next += 1;
    return sorted.slice(first, next);
  };
}
