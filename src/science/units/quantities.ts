import { molarMassGPerMol } from '../atoms.ts';
import { SALINITY_UNITS } from './salinity.ts';
import { linearUnit, massUnits, plainMassUnits, type Unit } from './scales.ts';

/** What the units of one quantity are; the first is the canonical one, in which values are stored. */
export interface Quantity {
  readonly name: string;
  readonly units: readonly [Unit, ...Unit[]];
  /** Canonical values that an aquarium, a standard or a bag can hold; a reading outside is a slip. */
  readonly possible: readonly [number, number];
  /** Canonical values that are common in coral culture; only used to ask a better question. Common practice. */
  readonly usual: readonly [number, number];
}

/** One German degree of hardness is 10 mg/L of CaO. */
const DKH_PER_MEQ = molarMassGPerMol({ Ca: 1, O: 1 }) / 2 / 10;
const MG_CACO3_PER_MEQ = molarMassGPerMol({ Ca: 1, C: 1, O: 3 }) / 2;

const ALKALINITY_UNITS: [Unit, ...Unit[]] = [
  linearUnit('meq/L', 1, ['meq/l', 'meql-1', 'meq', 'mval/l', 'mmol/l']),
  linearUnit('dKH', DKH_PER_MEQ, ['dkh', 'kh', 'degdkh', 'degkh', 'degdh', 'dh']),
  linearUnit('mg/L CaCO3', MG_CACO3_PER_MEQ, ['mg/lcaco3', 'ppmcaco3', 'caco3mg/l', 'caco3ppm']),
];

const PAR_SPELLINGS = ['umol/m2/s', 'umolm-2s-1', 'umol/(m2s)', 'umol/m2s', 'par', 'ppfd'];

const NITRATE = forms(
  { code: '', atoms: { N: 1, O: 3 }, names: ['no3', 'nitrate'] },
  { code: 'N', atoms: { N: 1 }, names: ['n', 'no3n', 'nitraten', 'nitratenitrogen'] },
);
const NITRITE = forms(
  { code: '', atoms: { N: 1, O: 2 }, names: ['no2', 'nitrite'] },
  { code: 'N', atoms: { N: 1 }, names: ['n', 'no2n', 'nitriten', 'nitritenitrogen'] },
);
const AMMONIA = forms(
  { code: 'N', atoms: { N: 1 }, names: ['n', 'nh3n', 'nh4n', 'tan', 'ammonian', 'ammoniumn'] },
  { code: 'NH3', atoms: { N: 1, H: 3 }, names: ['nh3', 'ammonia'] },
  { code: 'NH4', atoms: { N: 1, H: 4 }, names: ['nh4', 'ammonium'] },
);
const PHOSPHATE = forms(
  { code: '', atoms: { P: 1, O: 4 }, names: ['po4', 'phosphate'] },
  { code: 'P', atoms: { P: 1 }, names: ['p', 'po4p', 'phosphatep', 'phosphorus'] },
);
const SILICATE = forms(
  { code: '', atoms: { Si: 1, O: 2 }, names: ['sio2', 'silica', 'silicate'] },
  { code: 'Si', atoms: { Si: 1 }, names: ['si', 'sio2si', 'silicon'] },
);

/** Every quantity by its code. */
export const QUANTITIES = {
  alkalinity: quantity('alkalinity', ALKALINITY_UNITS, [0, 20], [1.5, 5]),
  calcium: quantity('calcium', plain('calcium', 'ca'), [0, 2000], [300, 600]),
  magnesium: quantity('magnesium', plain('magnesium', 'mg'), [0, 5000], [900, 1800]),
  nitrate: quantity('nitrate', NITRATE, [0, 1000], [0, 100]),
  nitrite: quantity('nitrite', NITRITE, [0, 100], [0, 5]),
  ammonia: quantity('ammonia', AMMONIA, [0, 100], [0, 5]),
  phosphate: quantity('phosphate', PHOSPHATE, [0, 50], [0, 2]),
  salinity: quantity('salinity', nonEmpty(SALINITY_UNITS), [0, 60], [25, 40]),
  temperature: quantity('temperature', temperatureUnits(), [-2, 50], [18, 32]),
  ph: quantity('pH', [linearUnit('pH', 1, ['ph'])], [0, 14], [7, 9]),
  orp: quantity('redox potential', [linearUnit('mV', 1, ['mv'])], [-1000, 1000], [100, 500]),
  silicate: quantity('silicate', SILICATE, [0, 100], [0, 5]),
  iodine: quantity('iodine', plain('iodine', 'i'), [0, 10], [0, 0.2]),
  strontium: quantity('strontium', plain('strontium', 'sr'), [0, 100], [3, 20]),
  potassium: quantity('potassium', plain('potassium', 'k'), [0, 2000], [250, 600]),
  boron: quantity('boron', plain('boron', 'b'), [0, 100], [1, 20]),
  bromide: quantity('bromide', plain('bromide', 'br'), [0, 500], [20, 120]),
  fluoride: quantity('fluoride', plain('fluoride', 'f'), [0, 20], [0.3, 3]),
  sulphate: quantity('sulphate', plain('sulphate', 'so4'), [0, 10000], [1500, 4000]),
  lithium: quantity('lithium', plain('lithium', 'li'), [0, 20], [0, 1]),
  barium: quantity('barium', plain('barium', 'ba'), [0, 10], [0, 0.1]),
  iron: quantity('iron', plain('iron', 'fe'), [0, 10], [0, 0.1]),
  manganese: quantity('manganese', plain('manganese', 'mn'), [0, 10], [0, 0.1]),
  molybdenum: quantity('molybdenum', plain('molybdenum', 'mo'), [0, 10], [0, 0.1]),
  cobalt: quantity('cobalt', plain('cobalt', 'co'), [0, 10], [0, 0.1]),
  nickel: quantity('nickel', plain('nickel', 'ni'), [0, 10], [0, 0.1]),
  copper: quantity('copper', plain('copper', 'cu'), [0, 10], [0, 0.1]),
  zinc: quantity('zinc', plain('zinc', 'zn'), [0, 10], [0, 0.1]),
  aluminium: quantity('aluminium', plain('aluminium', 'al'), [0, 10], [0, 0.5]),
  vanadium: quantity('vanadium', plain('vanadium', 'v'), [0, 10], [0, 0.1]),
  chromium: quantity('chromium', plain('chromium', 'cr'), [0, 10], [0, 0.1]),
  arsenic: quantity('arsenic', plain('arsenic', 'as'), [0, 10], [0, 0.1]),
  antimony: quantity('antimony', plain('antimony', 'sb'), [0, 10], [0, 0.1]),
  cadmium: quantity('cadmium', plain('cadmium', 'cd'), [0, 10], [0, 0.1]),
  mercury: quantity('mercury', plain('mercury', 'hg'), [0, 10], [0, 0.1]),
  selenium: quantity('selenium', plain('selenium', 'se'), [0, 10], [0, 0.1]),
  silver: quantity('silver', plain('silver', 'ag'), [0, 10], [0, 0.1]),
  titanium: quantity('titanium', plain('titanium', 'ti'), [0, 10], [0, 0.1]),
  rubidium: quantity('rubidium', plain('rubidium', 'rb'), [0, 10], [0, 0.5]),
  sodium: quantity('sodium', plain('sodium', 'na'), [0, 30000], [8000, 13000]),
  chloride: quantity('chloride', plain('chloride', 'cl'), [0, 50000], [15000, 23000]),
  sulphur: quantity('sulphur', plain('sulphur', 's'), [0, 5000], [500, 1400]),
  tin: quantity('tin', plain('tin', 'sn'), [0, 10], [0, 0.1]),
  lead: quantity('lead', plain('lead', 'pb'), [0, 10], [0, 0.1]),
  oxygen: quantity('dissolved oxygen', plain('oxygen', 'o2'), [0, 40], [4, 12]),
  par: quantity('light (PAR)', [linearUnit('umol/m2/s', 1, PAR_SPELLINGS)], [0, 5000], [10, 1000]),
} as const;

/** The code of a quantity, as used everywhere in the service. */
export type QuantityCode = keyof typeof QUANTITIES;

/** True for the code of a quantity that this service knows. */
export function isQuantityCode(code: string): code is QuantityCode {
  return Object.hasOwn(QUANTITIES, code);
}

function quantity(
  name: string,
  units: readonly [Unit, ...Unit[]],
  possible: readonly [number, number],
  usual: readonly [number, number],
): Quantity {
  return { name, units, possible, usual };
}

function forms(...species: Parameters<typeof massUnits>[0]): [Unit, ...Unit[]] {
  return nonEmpty(massUnits(species));
}

function plain(name: string, symbol: string): [Unit, ...Unit[]] {
  return nonEmpty(plainMassUnits(name, symbol));
}

function temperatureUnits(): [Unit, ...Unit[]] {
  return [
    linearUnit('degC', 1, ['degc', 'c', 'celsius', 'cel']),
    linearUnit('degF', 1.8, ['degf', 'f', 'fahrenheit'], 32),
  ];
}

function nonEmpty(units: readonly Unit[]): [Unit, ...Unit[]] {
  const [first, ...rest] = units;
  if (first === undefined) throw new Error('a quantity needs at least one unit');
  return [first, ...rest];
}
