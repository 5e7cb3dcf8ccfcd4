import { gramsWords, litres } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, sayRise, usualMiddle } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import type { Dose } from './doses.ts';
import type { Feeding } from './feedings.ts';
import type { WaterChangeEntry } from './water-changes.ts';

/** "184 L, 10 %", and which water, where it was not the usual one. */
export function waterChangeWords(
  change: Pick<WaterChangeEntry, 'volumeL' | 'makeUp'>,
  system: Pick<WaterSystem, 'volumeL'>,
): string {
  const part = (100 * change.volumeL) / system.volumeL;
  const { salinity } = change.makeUp ?? {};
  const by =
    salinity === undefined
      ? ''
      : salinity === 0
        ? ' by purified water'
        : ` by water of ${numberWords(salinity)} PSU`;
  const other = change.makeUp !== null && salinity === undefined ? ' by water of its own' : '';
  return `${litres(change.volumeL)}, ${numberWords(part, part < 10 ? 1 : 0)} %${by}${other}`;
}

/** How the list of doses says of one that it raises nothing that use is reckoned for, and of a rise that it is not known. */
export const raisesNothingReckoned = 'something else';
export const riseNotKnown = 'not known';

/** "raises alkalinity by 0.3 dKH", or what of that is not known. */
export function doseEffectWords(
  { quantityCode, effect }: Pick<Dose, 'quantityCode' | 'effect'>,
  quantities: readonly Quantity[],
): string {
  const quantity = quantities.find((one) => one.code === quantityCode);
  if (quantity === undefined)
    return effect === 0 ? 'raises none of what use is reckoned for' : 'what it raises is not known';
  const name = nameInSentence(quantity.name);
  if (effect === null) return `raises ${name}, by how much is not known`;
  return `${effect < 0 ? 'lowers' : 'raises'} ${name} by ${sayRise(quantity, Math.abs(effect), usualMiddle(quantity))}`;
}

/** "12 g chopped shrimp, Tank 2". */
export function feedingWords({ food, amountG, tank }: Pick<Feeding, 'food' | 'amountG' | 'tank'>): string {
  return `${amountG === null ? '' : `${gramsWords(amountG)} `}${food}${tank === null ? '' : `, ${tank}`}`;
}
