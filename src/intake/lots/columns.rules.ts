import { columnNames, type NamedLayout } from '../file/named-columns.rules.ts';
import type { Answers } from '../file/questions.rules.ts';

/** What a column of a file of stock can hold. */
export const lotColumns = {
  ignore: 'nothing we take',
  givenCode: 'the code it has in Evenwater',
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
const names = columnNames<Exclude<LotColumnMeaning, 'ignore'>>({
  givenCode: ['evenwatercode'],
  ownCode: [
    'owncode',
    'code',
    'id',
    'sku',
    'itemcode',
    'lot',
    'lotcode',
    'number',
    'no',
    'tag',
    'ref',
    'reference',
  ],
  name: ['name', 'tradename', 'coral', 'item', 'description', 'title', 'soldas'],
  kind: ['kind', 'species', 'genus', 'scientificname', 'type', 'taxon', 'keptas'],
  pieces: ['pieces', 'pcs', 'qty', 'quantity', 'count', 'amount', 'stock', 'frags', 'howmany'],
  rack: ['rack', 'shelf', 'rackname'],
  slots: ['slots', 'slot', 'place', 'position', 'location', 'cell', 'cells', 'where', 'spot'],
  mother: ['mother', 'mothercode', 'parent', 'motherlot', 'cutfrom', 'donor', 'from'],
  isMother: ['ismother', 'motherstock', 'keptforcutting'],
  size: ['size', 'sizemm', 'sizecm', 'diameter', 'sizein', 'sizeinch'],
  received: [
    'received',
    'arrived',
    'date',
    'since',
    'came',
    'receivedon',
    'arrivaldate',
    'datereceived',
    'day',
  ],
  origin: ['origin', 'supplier', 'source', 'vendor', 'boughtfrom', 'camefrom'],
  permit: ['permit', 'cites', 'papers', 'permitnumber', 'document', 'permitandsourcecode'],
  price: ['price', 'priceapiece', 'unitprice', 'retail', 'sellprice', 'priceeach'],
  note: ['note', 'notes', 'comment', 'comments', 'remark', 'remarks'],
});

export type LotLayout = NamedLayout<Exclude<LotColumnMeaning, 'ignore'>>;

/** Heads may name the unit of sizes without brackets: "size mm". */
const sizeUnit = (head: string) => /(mm|cm|inch|in)$/i.exec(head.replace(/^size[\s_]?/i, ''))?.[1] ?? '';

/** The layout as answered, else as guessed. */
export function lotLayout(rows: readonly (readonly string[])[], answers: Answers): LotLayout {
  const { headRow, columns } = names.layout(rows, answers);
  const withUnit = (column: LotLayout['columns'][number]) =>
    column.meaning === 'size' && column.unit === '' ? { ...column, unit: sizeUnit(column.head) } : column;
  return { headRow, columns: columns.map(withUnit) };
}

/** What the layout lacks before any row can be read, or null. */
export function lotLayoutFault({ columns }: LotLayout): string | null {
  return columns.some(({ meaning }) => meaning === 'name' || meaning === 'kind')
    ? null
    : 'No column says what the lots are. Say below which column holds the name or the kind.';
}
