import { columnNames, type NamedColumn, type NamedLayout, usualHeads } from '../file/named-columns.rules.ts';
import { normalizeName } from '../file/names.rules.ts';
import type { Answers } from '../file/questions.rules.ts';

/** What a column of a file of stock can hold. */
export const lotColumns = {
  ignore: 'nothing we use',
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

type Meaning = Exclude<LotColumnMeaning, 'ignore'>;

/** Words that heads of such columns are made of, without marks and in lower case, in six languages (common practice). */
const heads: Readonly<Record<Meaning, readonly string[]>> = {
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
    'nr',
    'nummer',
    'artikelnummer',
    'artnr',
    'numéro',
    'numero',
    'código',
    'codigo',
    'codice',
  ],
  name: [
    'name',
    'tradename',
    'coral',
    'item',
    'description',
    'title',
    'soldas',
    'handelsname',
    'bezeichnung',
    'nom',
    'nomcommercial',
    'nombre',
    'nome',
    'naam',
  ],
  kind: [
    'kind',
    'species',
    'genus',
    'scientificname',
    'type',
    'taxon',
    'keptas',
    'art',
    'korallenart',
    'koralle',
    'gattung',
    'spezies',
    'espèce',
    'espece',
    'especie',
    'specie',
    'soort',
  ],
  pieces: [
    'pieces',
    'pcs',
    'qty',
    'quantity',
    'count',
    'amount',
    'stock',
    'frags',
    'howmany',
    'stk',
    'stück',
    'anzahl',
    'menge',
    'bestand',
    'pièces',
    'quantité',
    'cantidad',
    'piezas',
    'unidades',
    'quantità',
    'pezzi',
    'aantal',
    'stuks',
  ],
  rack: [
    'rack',
    'shelf',
    'rackname',
    'regal',
    'gestell',
    'étagère',
    'etagere',
    'estante',
    'rejilla',
    'scaffale',
    'rek',
  ],
  slots: [
    'slots',
    'slot',
    'place',
    'position',
    'location',
    'cell',
    'cells',
    'where',
    'spot',
    'platz',
    'plätze',
    'emplacement',
    'posición',
    'posicion',
    'lugar',
    'posizione',
    'plek',
    'plaats',
  ],
  mother: [
    'mother',
    'mothercode',
    'parent',
    'motherlot',
    'cutfrom',
    'donor',
    'from',
    'mutter',
    'mère',
    'madre',
    'moeder',
  ],
  isMother: ['ismother', 'motherstock', 'keptforcutting'],
  size: [
    'size',
    'sizemm',
    'sizecm',
    'diameter',
    'sizein',
    'sizeinch',
    'größe',
    'grösse',
    'groesse',
    'durchmesser',
    'taille',
    'tamaño',
    'tamano',
    'dimensione',
    'maat',
  ],
  received: [
    'received',
    'arrived',
    'date',
    'since',
    'came',
    'camein',
    'datein',
    'acquired',
    'dateacquired',
    'receivedon',
    'arrivaldate',
    'datereceived',
    'day',
    'datum',
    'gekauftam',
    'eingang',
    'eingangsdatum',
    'kaufdatum',
    'erhalten',
    'reçu',
    'reçule',
    'dateachat',
    'datedachat',
    'fecha',
    'recibido',
    'fechadecompra',
    'data',
    'ricevuto',
    'ontvangen',
  ],
  origin: [
    'origin',
    'supplier',
    'source',
    'vendor',
    'boughtfrom',
    'camefrom',
    'lieferant',
    'herkunft',
    'fournisseur',
    'origine',
    'proveedor',
    'origen',
    'fornitore',
    'provenienza',
    'leverancier',
    'herkomst',
  ],
  permit: ['permit', 'cites', 'papers', 'permitnumber', 'document', 'permitandsourcecode'],
  price: [
    'price',
    'priceapiece',
    'unitprice',
    'retail',
    'sellprice',
    'priceeach',
    'vk',
    'preis',
    'verkaufspreis',
    'einzelpreis',
    'prix',
    'prixunitaire',
    'precio',
    'prezzo',
    'prijs',
  ],
  note: usualHeads.note,
};

/** What a cell says that is ticked or not, rather than naming anything. */
export const yesOrNo = /^(y|yes|n|no|x|true|false|0|1|-)$/i;

const names = columnNames(heads, (columns, body) => {
  const valuesOf = (i: number) => body.map((row) => row[i]?.trim() ?? '').filter((value) => value !== '');
  const isTradeName = ({ head }: NamedColumn<Meaning>) =>
    ['tradename', 'soldas'].includes(normalizeName(head));
  const hasTradeName = columns.some(isTradeName) && columns.every(({ meaning }) => meaning !== 'kind');
  const codes = new Set(
    columns.flatMap(({ meaning }, i) =>
      meaning === 'ownCode' || meaning === 'givenCode' ? valuesOf(i) : [],
    ),
  );
  return columns.map((column, i) => {
    // A name beside a trade name says what the lot is.
    if (column.meaning === 'name' && hasTradeName && !isTradeName(column))
      return { ...column, meaning: 'kind' };
    if (column.meaning !== 'mother') return column;
    const values = valuesOf(i);
    if (values.length > 0 && values.every((value) => yesOrNo.test(value)))
      return { ...column, meaning: 'isMother' };
    // "From" may say the mother or the supplier: a mother is named by a code of the file.
    const isSupplier = normalizeName(column.head) === 'from' && !values.some((value) => codes.has(value));
    return isSupplier ? { ...column, meaning: 'origin' } : column;
  });
});

export type LotLayout = NamedLayout<Meaning>;

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
