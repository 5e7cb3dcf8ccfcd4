import type { CorrectionFact, SystemFacts } from '../../facts/types.ts';
import type { Side } from './edges.ts';

/** By how much running and past corrections were to have moved a level by a day; 0 before the first. */
export type Shift = (day: number) => number;

/** Nothing was planned. */
export const noShift: Shift = () => 0;

/** A correction that still runs on a day. */
export const runsOn = ({ fromDay, toDay }: CorrectionFact, day: number): boolean =>
  fromDay <= day && (toDay === null || toDay > day);

/**
 * What corrections of one quantity were planned to do, so that a level can be watched beside the plan: steps that were
 * done count from their day, those still to do (from `now` on, of a running correction) from the day they are due.
 */
export function plannedShift(corrections: readonly CorrectionFact[], code: string, now: number): Shift {
  const own = corrections.filter(({ quantityCode }) => quantityCode === code);
  if (own.length === 0) return noShift;
  const jumps = own.flatMap((correction) => jumpsOf(correction, now));
  return (day) => jumps.reduce((sum, jump) => (jump.day <= day ? sum + jump.by : sum), 0);
}

function jumpsOf(correction: CorrectionFact, now: number): { day: number; by: number }[] {
  const running = runsOn(correction, now);
  const counted = correction.steps
    .map(({ doneDay, dueDay, expectedAfter }) => ({
      day: doneDay ?? (running && dueDay >= now ? dueDay : null),
      after: expectedAfter,
    }))
    .filter((step): step is { day: number; after: number } => step.day !== null)
    .sort((a, b) => a.day - b.day);
  return counted.map(({ day, after }, i) => ({
    day,
    by: after - (counted[i - 1]?.after ?? correction.fromValue),
  }));
}

/** A correction that runs and leads back into the band from this side; null where there is none. */
export function runningTowards(
  facts: SystemFacts,
  code: string,
  side: Side,
  day: number,
): CorrectionFact | null {
  return (
    facts.corrections.find(
      (one) =>
        one.quantityCode === code &&
        runsOn(one, day) &&
        (side === 'below' ? one.target > one.fromValue : one.target < one.fromValue),
    ) ?? null
  );
}

/** Whether the level lies further out than the plan has it, by more than its uncertainty and a step of the plan. */
export function departsFromPlan(
  correction: CorrectionFact,
  shift: Shift,
  level: { value: number; sd: number; day: number },
  side: Side,
): boolean {
  const expected = correction.fromValue + shift(level.day) - shift(correction.fromDay - 1e-6);
  const out = side === 'below' ? expected - level.value : level.value - expected;
  return out > Math.max(2 * level.sd, correction.dailyCap);
}
