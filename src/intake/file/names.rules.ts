/** A quantity by what people call it, with the chemical form its name states ("NO3-N" counts nitrogen). */
export interface NamedQuantity {
  code: string;
  form: string;
}

/** What each quantity is called in files: chemistry's symbols and the trade's short words (common practice). */
const names: Readonly<Record<string, readonly string[]>> = {
  alkalinity: [
    'alkalinity',
    'alk',
    'kh',
    'dkh',
    'totalalkalinity',
    'carbonatehardness',
    'alkalinität',
    'karbonathärte',
    'alcalinité',
    'alcalinidad',
    'alcalinità',
  ],
  calcium: ['calcium', 'ca', 'ca2', 'kalzium', 'calcio'],
  magnesium: ['magnesium', 'mg', 'mg2', 'magnésium', 'magnesio'],
  nitrate: ['nitrate', 'no3', 'nitrateasno3', 'nitrateno3', 'nitrat', 'nitrato', 'nitraat'],
  nitrite: ['nitrite', 'no2', 'nitriteasno2', 'nitriteno2', 'nitrit', 'nitrito', 'nitriet'],
  ammonia: ['ammonia', 'ammonium', 'totalammonia', 'tan'],
  phosphate: [
    'phosphate',
    'orthophosphate',
    'po4',
    'phosphateaspo4',
    'phosphatepo4',
    'phosphat',
    'fosfato',
    'fosfaat',
  ],
  salinity: [
    'salinity',
    'sal',
    'conductivity',
    'ec',
    'specificgravity',
    'sg',
    'density',
    'salinität',
    'dichte',
    'salinité',
    'densité',
    'salinidad',
    'densidad',
    'salinità',
    'densità',
    'saliniteit',
    'dichtheid',
  ],
  temperature: [
    'temperature',
    'temp',
    'watertemperature',
    'watertemp',
    'temperatur',
    'température',
    'temperatura',
    'temperatuur',
  ],
  ph: ['ph', 'phvalue'],
  orp: ['orp', 'redox', 'redoxpotential'],
  silicate: ['silicate', 'silica', 'sio2'],
  oxygen: ['oxygen', 'dissolvedoxygen', 'o2', 'do'],
  iodine: ['iodine', 'i', 'iodide', 'jod', 'iode', 'yodo', 'iodio'],
  strontium: ['strontium', 'sr'],
  potassium: ['potassium', 'k', 'kalium', 'potasio', 'potassio'],
  boron: ['boron', 'b'],
  bromide: ['bromide', 'bromine', 'br'],
  fluoride: ['fluoride', 'fluorine', 'f'],
  sulphate: ['sulphate', 'sulfate', 'so4'],
  lithium: ['lithium', 'li'],
  barium: ['barium', 'ba'],
  iron: ['iron', 'fe'],
  manganese: ['manganese', 'mn'],
  molybdenum: ['molybdenum', 'mo'],
  cobalt: ['cobalt', 'co'],
  nickel: ['nickel', 'ni'],
  copper: ['copper', 'cu'],
  zinc: ['zinc', 'zn'],
  aluminium: ['aluminium', 'aluminum', 'al'],
  vanadium: ['vanadium', 'v'],
  chromium: ['chromium', 'cr'],
  tin: ['tin', 'sn'],
  lead: ['lead', 'pb'],
  sulphur: ['sulphur', 'sulfur', 's'],
  sodium: ['sodium', 'na'],
  chloride: ['chloride', 'cl'],
  rubidium: ['rubidium', 'rb'],
  selenium: ['selenium', 'se'],
  titanium: ['titanium', 'ti'],
  arsenic: ['arsenic', 'as'],
  antimony: ['antimony', 'sb'],
  cadmium: ['cadmium', 'cd'],
  mercury: ['mercury', 'hg'],
  silver: ['silver', 'ag'],
};

/** Names that state a form of their own. */
const namesWithForm: readonly [string, NamedQuantity][] = [
  ...['no3n', 'nitraten', 'nitrateasn', 'nitratenitrogen'].map(named('nitrate', 'N')),
  ...['no2n', 'nitriten', 'nitriteasn', 'nitritenitrogen'].map(named('nitrite', 'N')),
  ...['nh3n', 'nh4n', 'ammonian', 'ammoniumn', 'ammoniaasn'].map(named('ammonia', 'N')),
  ...['nh3', 'ammoniaasnh3'].map(named('ammonia', 'NH3')),
  ...['nh4', 'ammoniumasnh4'].map(named('ammonia', 'NH4')),
  ...['po4p', 'p', 'phosphorus', 'phosphatep', 'phosphateasp'].map(named('phosphate', 'P')),
  ...['si', 'silicon', 'sio2si', 'silicateassi'].map(named('silicate', 'Si')),
];

function named(code: string, form: string): (name: string) => [string, NamedQuantity] {
  return (name) => [name, { code, form }];
}

const byName = new Map<string, NamedQuantity>([
  ...Object.entries(names).flatMap(([code, all]) =>
    [code, ...all].map((name): [string, NamedQuantity] => [name, { code, form: '' }]),
  ),
  ...namesWithForm,
]);

/** The quantity that a word or two name, if they do; nothing is guessed from part of a name. */
export function quantityByName(text: string): NamedQuantity | null {
  return byName.get(normalizeName(text)) ?? null;
}

const subscripts = /[₀-₉]/g;

/** Lower case letters and digits only: "NO₃-N" and "no3_n" are one name. */
export function normalizeName(text: string): string {
  return text
    .replace(subscripts, (digit) => String('₀₁₂₃₄₅₆₇₈₉'.indexOf(digit)))
    .normalize('NFKC')
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]/gu, '');
}
