import { normalizeName } from '../file/names.rules.ts';
import type { Answers } from '../file/questions.rules.ts';

/** What a column of a file of stock can hold. */
export const lotColumns = {
  ignore: 'nothing we take',
  ownCode: 'your own code',
  name: 'the trade name',
  kind: 'the kind',
  pieces: 'how many pieces',
  rack: 'the rack',
  slots: 'the slots, or rack and slots',
  mother: 'the mother’s code',
  isMother: 'whether it is a mother',
  size: 'the size of a piece',
  received: 'the day it was received',
  origin: 'the origin or supplier',
  permit: 'permit and source code',
  price: 'the price of a piece',
  note: 'a note',
} as const;
export type LotColumnMeaning = keyof typeof lotColumns;

/** Words that heads of such columns are made of, without marks and in lower case (common practice). */
const heads: readonly [LotColumnMeaning, readonly string[]][] = [
  [
    'ownCode',
    ['owncode', 'code', 'id', 'sku', 'itemcode', 'lot', 'lotcode', 'number', 'no', 'tag', 'ref', 'reference'],
  ],
  ['name', ['name', 'tradename', 'coral', 'item', 'description', 'title', 'soldas']],
  ['kind', ['kind', 'species', 'genus', 'scientificname', 'type', 'taxon', 'keptas']],
  ['pieces', ['pieces', 'pcs', 'qty', 'quantity', 'count', 'amount', 'stock', 'frags', 'howmany']],
  ['rack', ['rack', 'shelf', 'rackname']],
  ['slots', ['slots', 'slot', 'place', 'position', 'location', 'cell', 'cells', 'where', 'spot']],
  ['mother', ['mother', 'mothercode', 'parent', 'motherlot', 'cutfrom', 'donor', 'from']],
  ['isMother', ['ismother', 'motherstock', 'keptforcutting']],
  ['size', ['size', 'sizemm', 'sizecm', 'diameter', 'sizein', 'sizeinch']],
  [
    'received',
    ['received', 'arrived', 'date', 'since', 'came', 'receivedon', 'arrivaldate', 'datereceived', 'day'],
  ],
  ['origin', ['origin', 'supplier', 'source', 'vendor', 'boughtfrom', 'cameFrom'.toLowerCase()]],
  ['permit', ['permit', 'cites', 'papers', 'permitnumber', 'document', 'permitandsourcecode']],
  ['price', ['price', 'priceapiece', 'unitprice', 'retail', 'sellprice', 'priceeach']],
  ['note', ['note', 'notes', 'comment', 'comments', 'remark', 'remarks']],
];
const byHead = new Map(heads.flatMap(([meaning, all]) => all.map((word) => [word, meaning] as const)));

/** One column: its head, what it holds, and the unit or currency that the head names in brackets. */
export interface LotColumn {
  head: string;
  meaning: LotColumnMeaning;
  unit: string;
}

/** Which row holds the heads (1 for the first, 0 for none), and what each column holds. */
export interface LotLayout {
  headRow: number;
  columns: LotColumn[];
}

function columnOf(head: string): LotColumn {
  const [, name = head, unit = ''] = /^(.*?)\s*[([]\s*([^)\]]*)\s*[)\]]\s*$/.exec(head) ?? [];
  const unitOfHead = unit || (/(mm|cm|inch|in)$/i.exec(head.replace(/^size[\s_]?/i, ''))?.[1] ?? '');
  const meaning = byHead.get(normalizeName(head)) ?? byHead.get(normalizeName(name)) ?? 'ignore';
  return { head, meaning, unit: meaning === 'size' ? unitOfHead : unit };
}

function guessHeadRow(rows: readonly (readonly string[])[]): number {
  const scores = rows
    .slice(0, 15)
    .map((row) => row.filter((cell) => columnOf(cell).meaning !== 'ignore').length);
  const best = Math.max(0, ...scores);
  return best >= 2 ? scores.indexOf(best) + 1 : 0;
}

const isMeaning = (meaning: string): meaning is LotColumnMeaning => Object.hasOwn(lotColumns, meaning);

/** The layout as answered, else as guessed. Of two columns of one meaning the first has it. */
export function lotLayout(rows: readonly (readonly string[])[], answers: Answers): LotLayout {
  const chosen = Number(answers.head ?? Number.NaN);
  const headRow =
    Number.isInteger(chosen) && chosen >= 0 && chosen <= rows.length ? chosen : guessHeadRow(rows);
  const named = headRow === 0 ? [] : (rows[headRow - 1] ?? []);
  const width = headRow > 0 ? named.length : Math.max(0, ...rows.slice(0, 50).map((row) => row.length));
  const taken = new Set<LotColumnMeaning>();
  const columns = Array.from({ length: Math.min(width, 100) }, (_, i) => {
    const column = columnOf(named[i] ?? '');
    const answered = answers[`column-${i}`];
    const meaning = answered !== undefined && isMeaning(answered) ? answered : column.meaning;
    if (meaning !== 'ignore' && taken.has(meaning)) return { ...column, meaning: 'ignore' as const };
    taken.add(meaning);
    return { ...column, meaning };
  });
  return { headRow, columns };
}

/** What the layout lacks before any row can be read, or null. */
export function lotLayoutFault({ columns }: LotLayout): string | null {
  return columns.some(({ meaning }) => meaning === 'name' || meaning === 'kind')
    ? null
    : 'No column says what the lots are. Say below which column holds the name or the kind.';
}
