import { columnNames, type NamedLayout, usualHeads } from '../file/named-columns.rules.ts';
import type { Answers } from '../file/questions.rules.ts';
import { dayInTime } from '../file/sheet-shape.rules.ts';
import type { LogKind } from './kinds.rules.ts';

/** What a column of a file of what was done can hold. */
const meanings = {
  system: 'the system',
  when: 'day and time',
  date: 'the day',
  time: 'the time of day',
  what: 'what was dosed',
  food: 'what was fed',
  device: 'the device or circuit',
  work: 'what was done',
  amount: 'how much',
  unit: 'the unit of the amount',
  raises: 'what it raises',
  rise: 'by how much it raises that',
  riseUnit: 'the unit of the rise',
  newWater: 'which water came in',
  tank: 'the tank',
  pumpsOff: 'how long the pumps were off (min)',
  response: 'how the stock took it',
  by: 'who did it',
  note: 'a note',
  reason: 'why it was right although unusual',
  voided: 'that it does not count',
} as const;
export type LogColumn = keyof typeof meanings;
export type LogLayout = NamedLayout<LogColumn>;

/** Heads of such columns, in lower case and without marks, in six languages (common practice). */
const heads: Readonly<Record<LogColumn, readonly string[]>> = {
  system: [...usualHeads.system, 'tanksystem'],
  when: ['when', 'at', 'datetime', 'dateandtime', 'dateofdose', 'timestamp', 'doneat'],
  date: [...usualHeads.date, 'tag', 'dag', 'giorno', 'dia', 'día'],
  time: [...usualHeads.time, 'hour'],
  what: [
    'what',
    'substance',
    'additive',
    'supplement',
    'product',
    'dosed',
    'solution',
    'dose',
    'chemical',
    'name',
    'item',
    'produkt',
    'mittel',
    'produit',
    'producto',
    'prodotto',
  ],
  food: [
    'food',
    'what',
    'fed',
    'feed',
    'feeding',
    'product',
    'name',
    'item',
    'futter',
    'nourriture',
    'comida',
    'alimento',
    'cibo',
    'voer',
  ],
  device: [
    'device',
    'equipment',
    'what',
    'name',
    'item',
    'machine',
    'circuit',
    'gerät',
    'appareil',
    'equipo',
    'apparecchio',
  ],
  work: ['work', 'done', 'task', 'action', 'job', 'kind', 'type', 'arbeit', 'travail', 'trabajo', 'lavoro'],
  amount: [
    'amount',
    'quantity',
    'qty',
    'howmuch',
    'dose',
    'volume',
    'litres',
    'liters',
    'changed',
    'percent',
    'grams',
    'ml',
    'g',
    'weight',
    'waterchange',
    'menge',
    'wasserwechsel',
    'quantité',
    'changementdeau',
    'cantidad',
    'cambiodeagua',
    'quantità',
    'hoeveelheid',
    'waterwissel',
  ],
  unit: [...usualHeads.unit, 'measuredin', 'amountunit'],
  raises: ['raises', 'raised', 'affects', 'parameter', 'for'],
  rise: ['rise', 'effect', 'raisedby', 'raisesby', 'increase'],
  riseUnit: ['riseunit', 'effectunit'],
  newWater: ['newwater', 'waterused', 'which', 'whichwater', 'watertype', 'makeup'],
  tank: ['tank', 'vessel', 'raceway'],
  pumpsOff: [
    'pumpsoff',
    'pumpsoffmin',
    'pumpoff',
    'pumpsoffminutes',
    'pumpenaus',
    'pompesarrêtées',
    'bombasparadas',
    'pompeferme',
  ],
  response: ['response', 'taken', 'reaction', 'howtaken'],
  by: [
    'by',
    'who',
    'person',
    'doneby',
    'user',
    'staff',
    'nameofperson',
    'initials',
    'keeper',
    'von',
    'wer',
    'par',
    'por',
    'da',
    'door',
  ],
  note: usualHeads.note,
  reason: ['reason', 'why'],
  voided: ['voided', 'void', 'voidedat', 'deleted'],
};

const always = ['system', 'when', 'date', 'time', 'by', 'note', 'voided'] as const;
const own: Readonly<Record<LogKind, readonly LogColumn[]>> = {
  doses: [...always, 'what', 'amount', 'unit', 'raises', 'rise', 'riseUnit', 'reason'],
  water_changes: [...always, 'amount', 'unit', 'newWater'],
  feedings: [...always, 'food', 'amount', 'unit', 'tank', 'pumpsOff', 'response'],
  upkeep: [...always, 'device', 'work'],
};

const namesOf = (kind: LogKind) =>
  columnNames<LogColumn>(
    Object.fromEntries(
      (Object.keys(heads) as LogColumn[]).map((one) => [one, own[kind].includes(one) ? heads[one] : []]),
    ) as unknown as Record<LogColumn, readonly string[]>,
    (columns, body) => {
      const withDay = dayInTime(columns, body);
      return columns.map((column, i) => (i === withDay ? { ...column, meaning: 'when' as const } : column));
    },
  );

/** The layout of a file of one kind as answered, else as guessed. */
export const logLayout = (kind: LogKind, rows: readonly (readonly string[])[], answers: Answers): LogLayout =>
  namesOf(kind).layout(rows, answers);

/** What a column of a file of one kind may be said to hold. */
export const columnChoices = (kind: LogKind) => [
  { value: 'ignore', text: 'nothing we use' },
  ...own[kind].map((value) => ({ value, text: meanings[value] })),
];

const needed: Readonly<Record<LogKind, readonly LogColumn[]>> = {
  doses: ['what', 'amount'],
  water_changes: ['amount'],
  feedings: ['food'],
  upkeep: ['device'],
};

/** Whether a column says what was done, by what it holds or, where nothing is taken of it, by its head in plain form. */
export const saysWhat = ({ meaning }: LogLayout['columns'][number], head: string): boolean =>
  meaning === 'what' ||
  meaning === 'food' ||
  (meaning === 'ignore' &&
    [...heads.what, ...heads.work, 'activity', 'entry', 'tätigkeit', 'was'].includes(head));

/** What the layout lacks before any row can be read, or null. */
export function logLayoutFault(kind: LogKind, { columns }: LogLayout): string | null {
  const has = (meaning: LogColumn) => columns.some((column) => column.meaning === meaning);
  if (!has('when') && !has('date')) return 'No column says when. Say below which column holds the day.';
  const missing = needed[kind].find((meaning) => !has(meaning));
  return missing === undefined
    ? null
    : `No column says ${missing === 'amount' ? 'how much it was' : meanings[missing]}. Say below which column does.`;
}
