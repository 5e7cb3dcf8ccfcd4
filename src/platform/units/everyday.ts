import { canonicalUnit, convert, convertDifference } from '../../science/units.ts';
import { figureKept, keptAlways } from './kept-words.ts';
import { litres } from './measures.ts';
import { say, sayDifference } from './quantity-words.ts';
import { displayNow, usualLevels } from './reader-quantities.ts';
import type { ownQuantities } from './units.ts';

// Temperatures, alkalinities and salinities in sentences of rules and steps, which know no farm's way of writing them.

type Everyday = (typeof ownQuantities)[number];

const written: Readonly<Record<Everyday, string>> = {
  temperature: 'degC',
  alkalinity: 'dKH',
  salinity: 'PSU',
};

const quantityOf = (code: Everyday, decimals: number) => ({
  code,
  canonicalUnit: canonicalUnit(code),
  displayUnit: written[code],
  decimals,
});

/** A level in the reader's unit; `value` canonical: "25.2 °C", "77.4 °F". */
export const levelWords = (code: Everyday, value: number, decimals = 1): string =>
  say(displayNow(quantityOf(code, decimals)), value);

/** A difference or a rate in the reader's unit; canonical: "0.3 dKH", "0.11 meq/L". */
export const stepWords = (code: Everyday, difference: number, decimals = 1): string =>
  sayDifference(displayNow(quantityOf(code, decimals)), difference, usualLevels[code]);

const decimalsIn = (value: number): number => `${value}`.split('.')[1]?.length ?? 0;

const canonical = (code: Everyday, value: number): number =>
  convert(code, value, written[code], canonicalUnit(code));

/** A level in a sentence that is written once for all: it is said in the unit of each reader. In degC, dKH or PSU. */
const fixedLevel = (code: Everyday, value: number): string =>
  keptAlways(() => say(quantityOf(code, decimalsIn(value)), canonical(code, value)));

/** A difference in such a sentence; it keeps a digit more in other units: 1 °C is 1.8 °F. */
function fixedStep(code: Everyday, difference: number): string {
  const canonicalStep = convertDifference(
    code,
    difference,
    written[code],
    canonicalUnit(code),
    usualLevels[code],
  );
  return keptAlways(() =>
    sayDifference(quantityOf(code, decimalsIn(difference)), canonicalStep, usualLevels[code]),
  );
}

/** A number of such a sentence without its unit, as in "0.5 to 1 °C". */
export const withoutUnit = (said: string): string => said.split(' ')[0] ?? said;

/** What sentences that are written once for all say most: levels and steps of temperature and alkalinity, degC and dKH. */
export const fixed = {
  degC: (value: number) => fixedLevel('temperature', value),
  byDegC: (step: number) => fixedStep('temperature', step),
  dKH: (value: number) => fixedLevel('alkalinity', value),
  byDKH: (step: number) => fixedStep('alkalinity', step),
  psu: (value: number) => withoutUnit(fixedLevel('salinity', value)),
  byPsu: (step: number) => withoutUnit(fixedStep('salinity', step)),
  litres: (value: number) =>
    keptAlways(() => (value === 1 ? figureKept('1 litre', 'litre', 1) : litres(value))),
  cm: (from: number, to: number) =>
    keptAlways(() => figureKept(`${from} to ${to} cm`, 'lengths', from * 10, to * 10)),
};
