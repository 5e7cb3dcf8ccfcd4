import { numberWords } from '../platform/words.ts';
import { type CorrectionState, isRunning, type StepState } from './correction-state.ts';
import { type Correctable, marginOf } from './dosing/substances.rules.ts';
import { say, sayDifference } from './quantities/quantities.ts';

/** "55.5 g", "1,250 mL". */
export const amountWords = (amount: number, unit: string): string => `${numberWords(amount)} ${unit}`;

/** "Add 55 g of sodium bicarbonate", "Exchange 120 L of water". */
export function stepTitle(
  { means, basis }: Pick<CorrectionState, 'means' | 'basis'>,
  { amount, unit }: Pick<StepState, 'amount' | 'unit'>,
): string {
  return means === 'exchange'
    ? `Exchange ${amountWords(amount, unit)} of water`
    : `Add ${amountWords(amount, unit)} of ${basis.means}`;
}

/** "Alkalinity from 6.9 to 8.3 dKH by sodium bicarbonate". */
export function correctionTitle({ quantity, reading, target, basis }: CorrectionState): string {
  const from = say(quantity, reading.value).replace(/ \D.*$/, '');
  return `${quantity.name} from ${from} to ${say(quantity, target)} by ${basis.means}`;
}

/** How a correction stands: "running, 1 of 3 steps done", "finished", "stopped: …". */
export function statusWords(state: CorrectionState): string {
  const done = state.steps.filter((step) => step.doneAt !== null).length;
  const steps = `${done} of ${state.steps.length} ${state.steps.length === 1 ? 'step' : 'steps'} done`;
  if (state.finishedAt !== null) return `finished, ${steps}`;
  if (state.stoppedAt !== null) return `stopped, ${steps}: ${state.stopReason ?? ''}`;
  return isRunning(state) ? `running, ${steps}` : steps;
}

/** "7.5 dKH ± 0.3": the level expected after a step, with one standard uncertainty. */
export function expectedWords(
  { quantity }: Pick<CorrectionState, 'quantity'>,
  value: number,
  u: number,
): string {
  return `${say(quantity, value)} ± ${sayDifference(quantity, u, value).replace(/ \D.*$/, '')}`;
}

/** What a retest may differ by before a step is held back. */
export function marginWords({ quantity }: Pick<CorrectionState, 'quantity'>): string {
  return sayDifference(quantity, marginOf(quantity.code as Correctable), quantity.plausibleLow);
}
