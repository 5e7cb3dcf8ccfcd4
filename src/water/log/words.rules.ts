import { gramsWords, litres } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, sayRise } from '../quantities/quantities.ts';
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

/** "raises Alkalinity by 0.3 dKH", or that nothing is known. */
export function doseEffectWords(
  dose: Pick<Dose, 'quantityCode' | 'effect'>,
  quantities: readonly Quantity[],
): string {
  const quantity = quantities.find((one) => one.code === dose.quantityCode);
  if (quantity === undefined || dose.effect === null) return 'effect not known';
  const verb = dose.effect < 0 ? 'lowers' : 'raises';
  const middle = (quantity.plausibleLow + quantity.plausibleHigh) / 2;
  return `${verb} ${nameInSentence(quantity.name)} by ${sayRise(quantity, Math.abs(dose.effect), middle)}`;
}

/** "12 g chopped shrimp, Tank 2". */
export function feedingWords({ food, amountG, tank }: Pick<Feeding, 'food' | 'amountG' | 'tank'>): string {
  return `${amountG === null ? '' : `${gramsWords(amountG)} `}${food}${tank === null ? '' : `, ${tank}`}`;
}
