import type { CorrectionFact, SystemFacts } from '../facts/types.ts';
import type { Side } from './band-standing.ts';
import { isRunning, type Shift } from './planned-shift.ts';

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
        isRunning(one, day) &&
        (side === 'below' ? one.target > one.fromValue : one.target < one.fromValue),
    ) ?? null
  );
}

/** Whether the level lies further out than the plan has it, by more than its uncertainty and a step of the plan. */
export function departs(
  correction: CorrectionFact,
  shift: Shift,
  level: { value: number; sd: number; day: number },
  side: Side,
): boolean {
  const expected = correction.fromValue + shift(level.day) - shift(correction.fromDay - 1e-6);
  const out = side === 'below' ? expected - level.value : level.value - expected;
  return out > Math.max(2 * level.sd, correction.dailyCap);
}
