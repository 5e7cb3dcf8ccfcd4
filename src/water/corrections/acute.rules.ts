import { numberWords } from '../../platform/words/numbers.ts';
import { salinityExchangeL } from '../../science/dilution.ts';
import { type AcuteState, acuteAt } from '../acute/acute-states.rules.ts';
import type { Means } from '../dosing/substances.rules.ts';

/** The acute state that a correction starts from; null where the level is one that stock can live in. Canonical units. */
export const acuteStart = (quantity: string, value: number): AcuteState | null => acuteAt(quantity, value);

/**
 * What is said where a correction starts from an acute level: the order, the fast rate, what one step of it is with what
 * it is corrected with, from where the daily plan takes over, and the next test.
 */
export function acuteCautions(
  state: AcuteState,
  level: number,
  volumeL: number,
  means: Pick<Means, 'amountPerRise' | 'makeUp' | 'name' | 'unit'> | null,
): string[] {
  const portion = means === null ? null : portionOf(state, level, volumeL, means);
  return [
    `This level is acute: the daily plan is for the slow rest. ${state.source}`,
    ...[state.people, state.air].filter((text) => text !== ''),
    state.rate.words,
    ...(portion === null ? [] : [portion]),
    `${state.slow} ${state.again}`,
    state.not,
  ];
}

/** One step at the fast rate, as it is weighed or changed out; null where no step bounds it. */
function portionOf(
  { quantity, rate: { by } }: AcuteState,
  level: number,
  volumeL: number,
  { amountPerRise, makeUp, name, unit }: Pick<Means, 'amountPerRise' | 'makeUp' | 'name' | 'unit'>,
): string | null {
  if (by === null) return null;
  if (amountPerRise !== null && by > 0)
    return `One such step is ${numberWords(amountPerRise * by, 0)} ${unit} of ${name} here.`;
  const towards = makeUp !== null && Math.sign(makeUp - level) === Math.sign(by);
  if (quantity !== 'salinity' || !towards || makeUp === null || Math.abs(makeUp - level) <= Math.abs(by))
    return null;
  const litres = salinityExchangeL(volumeL, level, level + by, makeUp);
  return `One such step is ${numberWords(litres, 0)} L changed for this water here.`;
}
