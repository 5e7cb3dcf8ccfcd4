import { numberWords } from '../../platform/words/numbers.ts';
import { molarMassGPerMol } from '../../science/atoms.ts';
import { totalPhFromNbs } from '../../science/carbonate.ts';
import {
  lastingSalinityRise,
  phAfterAlkalinityDose,
  riseUpToPh,
  salinityChangeOfDose,
} from '../../science/dosing.ts';
import { densityKgPerM3 } from '../../science/seawater.ts';
import type { Correctable, MeansCode } from '../dosing/substances.rules.ts';
import type { WaterChemistry } from './saturation.rules.ts';

const everyTime = 'Gloves and eye protection. Keep wet hands from mains leads.';
const label =
  'The label of the product and local rules on chemicals go before this page; it does not replace a qualified person.';
const dissolve =
  'Dissolve it in fresh water first, never put the dry salt among the animals, and add it slowly where the flow is strongest.';
const apart =
  'Never mix calcium with carbonate or bicarbonate before they are in the system, nor add them within the same hour: solid chalk forms.';

const own: Readonly<Record<MeansCode, readonly string[]>> = {
  'sodium-bicarbonate': [dissolve, apart],
  'sodium-carbonate': [
    'Sodium carbonate irritates eyes and skin, and gives off some heat as it dissolves.',
    `${dissolve} Spread each day over several hours: it lifts the pH at once.`,
    apart,
  ],
  'saturated-limewater': [
    'Limewater and its powder are caustic: they burn eyes, skin and lungs. Raise no dust; rinse eyes with water at once and get medical help.',
    'Drip only the clear water, slowly and by night, and only in place of what evaporates. Stop above pH 8.6.',
    apart,
  ],
  'calcium-chloride': [
    'Calcium chloride gives off much heat as it dissolves: stir the salt into cold water little by little, never water onto the salt, and let it cool.',
    dissolve,
    apart,
  ],
  'calcium-chloride-dihydrate': [
    'Calcium chloride gives off heat as it dissolves: stir the salt into cold water little by little, never water onto the salt, and let it cool.',
    dissolve,
    apart,
  ],
  'magnesium-chloride-hexahydrate': [dissolve],
  'magnesium-sulphate-heptahydrate': [dissolve],
  solution: ['Add it slowly where the flow is strongest, spread over several hours.', apart],
  exchange: [
    'New water of the same temperature, mixed and aired, and the same in everything that is not to change: the other levels move towards it too.',
    'Take out and put in slowly; watch that pumps and heaters stay covered, or switch them off.',
  ],
};

/** Cautions that stand beside the amounts. */
export function cautionsOf(code: MeansCode): string[] {
  return [...own[code], everyTime, label];
}

/** What a schedule does besides: the whole change (canonical) and that of its largest step, with what is in the water now. */
export interface Effects {
  code: MeansCode;
  quantity: Correctable;
  volumeL: number;
  /** Grams of dry substance in all; null where it is not weighed. */
  grams: number | null;
  change: number;
  largest: number;
  water: WaterChemistry;
}

/** What else the correction does, a sentence each. */
export function sideEffects(effects: Effects): string[] {
  return [phWords(effects), ...calciumWords(effects), sulphateWords(effects), salinityWords(effects)].filter(
    (one) => one !== null,
  );
}

/** Up to here the pH may be lifted by one addition; common practice: 7.8 to 8.5 acceptable. */
export const highestPh = 8.6;

const carbonates: Partial<
  Record<MeansCode, 'sodium-bicarbonate' | 'sodium-carbonate' | 'calcium-hydroxide'>
> = {
  'sodium-bicarbonate': 'sodium-bicarbonate',
  'sodium-carbonate': 'sodium-carbonate',
  'saturated-limewater': 'calcium-hydroxide',
};

/** The pH right after the whole of a day's addition at once, and how much alkalinity may come at once; null where it cannot be told. */
export function phOf({ code, water, largest }: Pick<Effects, 'code' | 'water' | 'largest'>) {
  const substance = carbonates[code];
  const { alkalinity, ph } = water;
  if (substance === undefined || alkalinity === null || ph === null) return null;
  const [salinity, temperatureDegC] = [water.salinity ?? 35, water.temperature ?? 25];
  try {
    const { phTotal } = totalPhFromNbs(ph, salinity, temperatureDegC);
    const shift = ph - phTotal;
    const perKg = 1e6 / densityKgPerM3(salinity, temperatureDegC);
    const carbonateWater = { alkalinityUmolKg: alkalinity * perKg, salinity, temperatureDegC };
    const after = phAfterAlkalinityDose(carbonateWater, phTotal, largest * perKg, substance) + shift;
    const most =
      ph >= highestPh ? 0 : riseUpToPh(carbonateWater, phTotal, highestPh - shift, substance) / perKg;
    return { before: ph, after, parts: most > 0 ? Math.ceil(largest / most - 1e-9) : Infinity };
  } catch (error) {
    if (error instanceof RangeError) return { before: ph, after: null, parts: Infinity };
    throw error;
  }
}

function phWords(effects: Effects): string | null {
  if (effects.code === 'exchange' || effects.code === 'solution') {
    return effects.code === 'solution' && effects.quantity === 'alkalinity'
      ? 'Whether it lifts the pH depends on what is in it: bicarbonate hardly, carbonate and hydroxide do. Test pH before and an hour after the first step.'
      : null;
  }
  if (effects.quantity !== 'alkalinity') return null;
  const found = phOf(effects);
  const hint = {
    'sodium-bicarbonate':
      'Bicarbonate lowers the pH a little at first and lifts it later, as carbon dioxide leaves.',
    'sodium-carbonate': 'Carbonate lifts the pH at once, about half as much as limewater does.',
    'saturated-limewater': 'Limewater lifts the pH most of all, since it brings no carbon.',
  }[effects.code as 'sodium-bicarbonate'];
  if (found === null)
    return `${hint} There is no recent pH reading: test it before and an hour after the first step.`;
  if (found.after === null || found.parts === Infinity)
    return `${hint} A day's addition at once would carry the pH out of its range: spread it over the whole day.`;
  const spread =
    found.parts > 1
      ? ` Give it in at least ${found.parts} parts, two hours or more between them, so that none lifts it past ${highestPh}.`
      : '';
  return `${hint} At once, the largest step takes it from ${numberWords(found.before, 2)} to about ${numberWords(found.after, 2)}.${spread}`;
}

/** 20.04 mg/L of calcium go with each meq/L: half the molar mass of calcium. */
function calciumWords({ code, quantity, change }: Effects): string[] {
  if (code === 'saturated-limewater')
    return [`It brings ${numberWords(change * 20.04, 0)} mg/L of calcium along.`];
  if (code === 'exchange' || quantity === 'magnesium' || quantity === 'salinity') return [];
  return quantity === 'alkalinity'
    ? ['It brings no calcium: what the corals build takes both, so test calcium too, on another day.']
    : ['It brings no alkalinity: what the corals build takes both, so test alkalinity too, on another day.'];
}

/** Sulphate of the sea at salinity 35: 2.712 g/kg (Reference Composition, Millero et al. 2008), 2,775 mg/L at 25 C. */
const seaSulphateMgL = 2775;

function sulphateWords({ code, grams, volumeL }: Effects): string | null {
  if (code !== 'magnesium-sulphate-heptahydrate' || grams === null) return null;
  const share = molarMassGPerMol({ S: 1, O: 4 }) / molarMassGPerMol({ Mg: 1, S: 1, O: 11, H: 14 });
  const rise = (grams * share * 1000) / volumeL;
  return `It raises sulphate by ${numberWords(rise, 0)} mg/L, ${numberWords((100 * rise) / seaSulphateMgL, 1)} % of the sea's. Not for every time: 8 g of magnesium chloride hexahydrate to 1 g of it keep the sea's proportion.`;
}

function salinityWords({ code, grams, volumeL, water, quantity, change }: Effects): string | null {
  if (code === 'exchange' || code === 'solution' || code === 'saturated-limewater' || grams === null)
    return null;
  const rise = salinityChangeOfDose(code, grams, volumeL, water.salinity ?? 35);
  if (quantity !== 'alkalinity') return `It raises salinity by about ${numberWords(rise, 2)}.`;
  const lasting = lastingSalinityRise(change);
  return `It raises salinity by about ${numberWords(rise, 2)}; with the calcium chloride that goes with it, ${numberWords(lasting, 2)} stays for good.`;
}
