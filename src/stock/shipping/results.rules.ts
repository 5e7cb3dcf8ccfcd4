import { numberWords } from '../../platform/words/numbers.ts';
import { binomialInterval } from '../../science/statistics/exact-intervals.ts';

/** A box whose arrival is known. */
export interface ArrivedBox {
  carrier: string;
  hours: number | null;
  /** 1 to 12, in which it arrived. */
  month: number;
  pieces: number;
  dead: number;
  late: boolean;
}

/** Pieces and losses of some boxes. */
export interface LossRow {
  name: string;
  boxes: number;
  late: number;
  pieces: number;
  dead: number;
  /** "2.5 % (0.1 to 12 %)", or that they are too few. */
  words: string;
  isTooFew: boolean;
}

/** An interval wider than this says too little to choose by (own choice). */
const WIDEST = 0.3;

const percent = (share: number) => numberWords(share * 100, share > 0 && share < 0.1 ? 1 : 0);

function rowOf(name: string, boxes: readonly ArrivedBox[]): LossRow {
  const pieces = boxes.reduce((sum, box) => sum + box.pieces, 0);
  const dead = boxes.reduce((sum, box) => sum + box.dead, 0);
  const late = boxes.filter((box) => box.late).length;
  const { low, high } = binomialInterval(dead, pieces);
  const isTooFew = high - low > WIDEST;
  const range = `${percent(low)} to ${percent(high)} %`;
  return {
    ...{ name, boxes: boxes.length, late, pieces, dead, isTooFew },
    words: isTooFew ? `Too few to say (${range})` : `${percent(dead / pieces)} % (${range})`,
  };
}

const HOURS = [
  { name: 'Up to 12 h', upTo: 12 },
  { name: '12 to 24 h', upTo: 24 },
  { name: '24 to 48 h', upTo: 48 },
  { name: 'Over 48 h', upTo: Number.POSITIVE_INFINITY },
];

const hoursOf = ({ hours }: ArrivedBox) =>
  hours === null ? 'Hours not entered' : (HOURS.find(({ upTo }) => hours <= upTo)?.name ?? '');

const SEASONS = ['December to February', 'March to May', 'June to August', 'September to November'];
const seasonOf = ({ month }: ArrivedBox) => SEASONS[Math.floor((month % 12) / 3)] ?? '';

/** What two spellings of one name have in common: "North van" and "north  Van" are one carrier. */
const spelledAlike = (name: string) => name.trim().replace(/\s+/g, ' ').toLowerCase();

function grouped(
  boxes: readonly ArrivedBox[],
  nameOf: (box: ArrivedBox) => string,
  order: readonly string[] | null,
): LossRow[] {
  const groups = Map.groupBy(boxes, (box) => spelledAlike(nameOf(box)));
  const rows = [...groups.values()].map((some) => rowOf(nameOf(some.at(-1) as ArrivedBox), some));
  if (order === null) return rows.sort((a, b) => b.pieces - a.pieces || a.name.localeCompare(b.name));
  return rows.sort((a, b) => order.indexOf(a.name) - order.indexOf(b.name));
}

/**
 * Dead on arrival out of the pieces sent, of boxes whose arrival is known: in all, by carrier, by hours from door to door,
 * and by season. Each share has its exact interval (95 %, Clopper and Pearson 1934), or is too few to say. Pieces of one box
 * die together, so that true intervals are wider: the page says so.
 */
export function lossTables(boxes: readonly ArrivedBox[]): { title: string; rows: LossRow[] }[] {
  if (boxes.length === 0) return [];
  const hourOrder = [...HOURS.map(({ name }) => name), 'Hours not entered'];
  return [
    { title: 'All', rows: [rowOf('All boxes', boxes)] },
    {
      title: 'By carrier',
      rows: grouped(boxes, ({ carrier }) => carrier || 'Carrier not entered', null),
    },
    { title: 'By hours from door to door', rows: grouped(boxes, hoursOf, hourOrder) },
    { title: 'By season', rows: grouped(boxes, seasonOf, SEASONS) },
  ];
}
