import { usualHeads } from './named-columns.rules.ts';
import { normalizeName, quantityByName } from './names.rules.ts';
import { headParts, headRowByShape, longestWord, rowsSearched } from './sheet-shape.rules.ts';

/** What a column can hold besides one quantity's values ("q:nitrate") and its detection limits ("limit:nitrate"). */
export const columnMeanings = {
  ignore: 'nothing we use',
  when: 'day and time',
  date: 'the day',
  time: 'the time of day',
  system: 'the system',
  quantity: 'which quantity',
  value: 'the value',
  unit: 'the unit',
  method: 'the method',
  kit: 'the kit',
  laboratory: 'the laboratory',
  batch: "the laboratory's sample or report",
  by: 'who tested',
  limit: 'the least that could be seen',
  note: 'a comment',
  code: 'a code that says what the value is',
  voided: 'a mark: rows with it do not count',
  enteredText: 'the value as it was entered',
  enteredUnit: 'the unit it was entered in',
  factor: 'what the number shown was multiplied by',
  uncertainty: 'the standard uncertainty',
  derived: 'what the service works out itself',
} as const;
export type ColumnMeaning = keyof typeof columnMeanings;

/** One column: what it holds, and the unit its head names, as written. */
export interface Column {
  head: string;
  meaning: string;
  unitText: string;
}

const wordsOfMeaning: readonly [ColumnMeaning, readonly string[]][] = [
  ['when', ['at', 'when', 'datetime', 'dateandtime', 'timestamp', 'sampledat', 'measuredat', 'dayandtime']],
  ['date', [...usualHeads.date, 'sampledate', 'testdate']],
  ['time', [...usualHeads.time, 'sampletime']],
  ['system', [...usualHeads.system, 'location', 'site', 'samplingpoint']],
  [
    'quantity',
    [
      'quantity',
      'parameter',
      'element',
      'analyte',
      'test',
      'measurement',
      'variable',
      'determinand',
      'messgröße',
      'paramètre',
      'parámetro',
      'parametro',
    ],
  ],
  [
    'value',
    [
      'value',
      'result',
      'reading',
      'measured',
      'concentration',
      'resultvalue',
      'wert',
      'messwert',
      'ergebnis',
      'valeur',
      'résultat',
      'valor',
      'resultado',
      'valore',
      'risultato',
      'waarde',
    ],
  ],
  ['unit', usualHeads.unit],
  ['method', ['method', 'analysismethod', 'technique']],
  ['kit', ['kit', 'testkit', 'instrument', 'meter', 'probe']],
  ['laboratory', ['laboratory', 'lab', 'labname', 'laboratoryname']],
  ['batch', ['batch', 'sample', 'sampleid', 'report', 'reportnumber', 'samplenumber', 'batchnumber']],
  ['note', usualHeads.note],
  [
    'code',
    [
      'code',
      'status',
      'flag',
      'qualifier',
      'statuscode',
      'belowdetection',
      'valuestatus',
      'resultflag',
      'sign',
    ],
  ],
  [
    'by',
    [
      'by',
      'testedby',
      'measuredby',
      'sampledby',
      'readby',
      'analyst',
      'operator',
      'who',
      'whotested',
      'gemessenvon',
      'mesurépar',
      'medidopor',
      'misuratoda',
    ],
  ],
  [
    'limit',
    [
      'limit',
      'detectionlimit',
      'limitofdetection',
      'lod',
      'mdl',
      'methoddetectionlimit',
      'reportinglimit',
      'rl',
      'quantificationlimit',
      'limitofquantification',
      'loq',
    ],
  ],
  ['voided', ['voidedat', 'voided', 'deletedat']],
  ['enteredText', ['enteredtext']],
  ['enteredUnit', ['enteredunit']],
  ['factor', ['factor', 'dilutionfactor']],
  ['uncertainty', ['standarduncertainty']],
  [
    'derived',
    [
      'trust',
      'trustreason',
      'voidreason',
      'correctedvalue',
      'correcteduncertainty',
      'kitbias',
      'hourssincedose',
      'enteredat',
    ],
  ],
];
const byWord = new Map(
  wordsOfMeaning.flatMap(([meaning, all]) => all.map((word) => [word, meaning] as const)),
);

const underscored = /^([mu]g|meq|[mu]mol)_l$/i;

/** What a column's head says it holds. */
export function columnOf(head: string): Column {
  if (head.length > longestWord) return { head, meaning: 'ignore', unitText: '' };
  const word = [head, ...headParts(head)]
    .map((one) => byWord.get(normalizeName(one)))
    .find((one) => one !== undefined);
  if (word !== undefined) return { head, meaning: word, unitText: '' };
  const limited = limitHead(head);
  if (limited !== null) return { head, meaning: `limit:${limited}`, unitText: '' };
  const found = quantityHead(head);
  if (found === null) return { head, meaning: 'ignore', unitText: '' };
  return { head, meaning: `q:${found.code}`, unitText: found.unitText.replace(underscored, '$1/L') };
}

const limitWords =
  /\b(lod|loq|mdl|(method )?detection limit|limit of (detection|quantification)|reporting limit|quantification limit)\b/i;

/** "Fe detection limit (ug/L)": the quantity whose limits the column holds, in the unit of its values. */
function limitHead(head: string): string | null {
  const plain = head.replaceAll('_', ' ');
  if (!limitWords.test(plain)) return null;
  const rest = plain
    .replace(limitWords, ' ')
    .replace(/\s+/g, ' ')
    .replace(/^[\s,:-]+|[\s,:-]+$/g, '');
  return quantityHead(rest)?.code ?? null;
}

/** "NO3-N [mg/L]" or "Salinity uS/cm at 25C": the quantity, and the unit with what it states of itself. */
function quantityHead(head: string): { code: string; unitText: string } | null {
  for (const [name, unit] of splitsOf(head)) {
    const found = quantityByName(name);
    if (found !== null) return { code: found.code, unitText: completeUnit(unit, found.form, name) };
  }
  return null;
}

/** The ways to split a head into name and unit, the longest name first. */
function splitsOf(head: string): [string, string][] {
  const bracketed = /^(.*?)\s*[([]\s*(.+?)\s*[)\]]\s*$/.exec(head);
  const after = /^(.*?)\s*[([]\s*(.+?)\s*[)\]]\s*(\S.*)$/.exec(head);
  const whole: [string, string][] = [[head, '']];
  if (bracketed !== null) return [...whole, [bracketed[1] ?? '', bracketed[2] ?? '']];
  if (after !== null) return [...whole, [after[1] ?? '', `${after[2]} ${after[3]}`]];
  const places = [...head.matchAll(/[\s_,:]+/g)].reverse();
  return [
    ...whole,
    ...places.map((place): [string, string] => [
      head.slice(0, place.index),
      head.slice(place.index + place[0].length),
    ]),
  ];
}

/** The unit text completed by what the name states: "mg/L" under "NO3-N" is of nitrogen; "dKH" names both; a bare "NO3-N" leaves the unit to ask. */
function completeUnit(unit: string, form: string, name: string): string {
  if (unit === '' && /^d\s?kh$/i.test(name.trim())) return 'dKH';
  if (unit === '') return form;
  if (form === '' || unit.toLowerCase().endsWith(form.toLowerCase())) return unit;
  return /^[muµμ]g\s*\/|^pp[mb]$/i.test(unit) ? `${unit} ${form}` : unit;
}

/** Which of the first rows holds the heads (1 for the first), or 0 when none does. */
export function guessHeadRow(rows: readonly (readonly string[])[]): number {
  const scores = rows
    .slice(0, rowsSearched)
    .map((row) => row.filter((cell) => columnOf(cell).meaning !== 'ignore').length);
  const best = Math.max(0, ...scores);
  const isNamed = best >= 2 || (best === 1 && (rows[0]?.length ?? 0) < 3);
  return isNamed ? scores.indexOf(best) + 1 : headRowByShape(rows);
}
