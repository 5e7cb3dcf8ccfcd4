import { z } from 'zod';
import type { CsvCell } from '../../platform/csv.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { inputAmount, priceOf } from '../../platform/words/money.ts';
import { isReady, lotReadiness, lotReadinessBehind, type Readiness } from '../../stock/sales/readiness.ts';
import { keyedList } from './keyed-list.ts';
import { pageOfQuery } from './keyed-sql.ts';
import type { Ask, ExportedList, ListPage, ListWords, PageAsked } from './list.ts';
import { columnTypes } from './worked-out-list.ts';

interface LotRow {
  code: string;
  ownCode: string;
  name: string;
  kind: string;
  identified: string | null;
  pieces: number;
  held: number;
  system: string | null;
  rack: string | null;
  slots: string | null;
  mother: string | null;
  isMother: boolean;
  sizeMm: number | null;
  receivedAt: Date;
  origin: string;
  permit: string;
  priceMinor: number | null;
  note: string;
}

/** A rack is named by its tank where two have one name, as the reader of files does. */
const lotQuery = `
  WITH named AS (
    SELECT rack.id, CASE WHEN count(*) OVER (PARTITION BY lower(rack.name)) = 1 THEN rack.name ELSE tank.name || ' ' || rack.name END AS name,
           system.name AS system
      FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id WHERE system.site_id = $1),
  placed AS (
    SELECT lot_id, min(named.system) AS system, string_agg(DISTINCT named.name, '; ') AS rack,
           string_agg(slot_name, ' ' ORDER BY row, "column") AS slots
      FROM lot_place JOIN named ON named.id = lot_place.rack_id GROUP BY lot_id),
  held AS (SELECT lot_id, sum(pieces)::int AS pieces FROM hold WHERE released_at IS NULL GROUP BY lot_id)
  SELECT lot.code, lot.own_code AS "ownCode", lot.trade_name AS name, kind.name AS kind,
         (SELECT trim(scientific_name || ' ' || identification_qualifier) FROM identification WHERE lot_id = lot.id
           ORDER BY date_identified DESC, created_at DESC LIMIT 1) AS identified,
         lot.pieces, coalesce(held.pieces, 0) AS held, placed.system, placed.rack, placed.slots,
         coalesce(nullif(mother.own_code, ''), mother.code) AS mother, lot.is_mother AS "isMother", lot.size_mm AS "sizeMm",
         lot.arrived_at AS "receivedAt", lot.origin, lot.permit, lot.price_minor AS "priceMinor", lot.note
    FROM lot JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN lot AS mother ON mother.id = lot.parent_id
    LEFT JOIN placed ON placed.lot_id = lot.id
    LEFT JOIN held ON held.lot_id = lot.id
   WHERE lot.site_id = $1 AND (lot.pieces > 0) = $2
   ORDER BY kind.name, lot.own_code, lot.code`;

/** The columns that the reader of stock files takes, and what else the list of stock shows. */
const lotHeads = (price: string): string[] => [
  ...[
    'Evenwater code',
    'own code',
    'name',
    'kind',
    'identified as',
    'pieces',
    'pieces held',
    'site',
    'system',
  ],
  ...['rack', 'slots', 'mother', 'is mother', 'size (mm)', 'received', 'origin', 'permit', price, 'note'],
];

function lotCells(lot: LotRow, { site }: Ask): CsvCell[] {
  const money = priceOf(lot.priceMinor, site.currency);
  return [
    ...[
      lot.code,
      lot.ownCode,
      lot.name,
      lot.kind,
      lot.identified,
      lot.pieces,
      lot.held,
      site.name,
      lot.system,
    ],
    ...[lot.rack, lot.slots, lot.mother, lot.isMother ? 'yes' : '', lot.sizeMm],
    ...[isoTime(lot.receivedAt, site.timeZone), lot.origin, lot.permit],
    ...[money === null ? null : Number(inputAmount(money)), lot.note],
  ];
}

async function* lotRows(ask: Ask, alive: boolean): AsyncGenerator<CsvCell[][]> {
  const { service, site } = ask;
  yield [lotHeads(site.currency === null ? 'price' : `price (${site.currency})`)];
  const { rows } = await service.pool.query<LotRow>(lotQuery, [site.id, alive]);
  yield rows.map((lot) => lotCells(lot, ask));
}

/** The same columns, with the currency in one of its own, so that no name depends on the site. */
const lotColumns = columnTypes([...lotHeads('price'), 'currency'], {
  numbers: ['pieces', 'pieces held', 'size (mm)', 'price'],
  times: ['received'],
});

async function lotPage(ask: Ask, alive: boolean, asked: PageAsked): Promise<ListPage> {
  const { service, site } = ask;
  const { rows, next } = await pageOfQuery<LotRow>(service.pool, lotQuery, [site.id, alive], asked);
  const cells = rows.map((lot) => [...lotCells(lot, ask), lot.priceMinor === null ? null : site.currency]);
  return { columns: lotColumns, rows: cells, next };
}

const lotList = (words: ListWords, alive: boolean): ExportedList => ({
  ...words,
  rows: (ask) => lotRows(ask, alive),
  columns: async () => lotColumns,
  page: (ask, asked) => lotPage(ask, alive, asked),
});

const readyHeads = [
  ...['code', 'own code', 'trade name', 'kind', 'site', 'system', 'place', 'pieces', 'held', 'free'],
  ...['size (mm)', 'price', 'currency', 'ready', 'why not', 'note'],
];

const readyCells = (lot: Readiness, { site }: Ask): CsvCell[] => [
  ...[lot.code, lot.ownCode, lot.tradeName, lot.kind, site.name, lot.systemName, lot.place],
  ...[lot.pieces, lot.held, lot.pieces - lot.held, lot.sizeMm],
  ...[lot.price === null ? null : Number(inputAmount(lot.price)), lot.price?.currency ?? null],
  ...[isReady(lot) ? 'yes' : 'no', lot.reasons.map(({ text }) => text).join('; '), lot.note],
];

/** The file of them, by kind as the page has them. */
async function* readyRows(ask: Ask): AsyncGenerator<CsvCell[][]> {
  const { service, site, now } = ask;
  yield [readyHeads];
  const lots = await lotReadiness(service.pool, { siteId: site.id, timeZone: site.timeZone }, now);
  yield lots.map((lot) => readyCells(lot, ask));
}

/** For programs by code, whose index leads to each page. */
const readyList = (words: ListWords): ExportedList => ({
  ...keyedList(
    words,
    columnTypes(readyHeads, {
      numbers: ['pieces', 'held', 'free', 'size (mm)', 'price'],
      yesOrNo: ['ready'],
    }),
    z.string(),
    async (ask, after, limit) => {
      const asked = { siteId: ask.site.id, timeZone: ask.site.timeZone, code: after ?? '', limit };
      const lots = await lotReadinessBehind(ask.service.pool, asked, ask.now);
      return lots.map((lot) => ({ place: lot.code, cells: readyCells(lot, ask) }));
    },
  ),
  rows: readyRows,
});

const reader = { access: 'reader' } as const;

/** The lots: those with pieces, those without, and which can be sold. */
export const lotLists: ExportedList[] = [
  lotList(
    {
      ...reader,
      slug: 'stock',
      title: 'Stock',
      what: 'A lot that has pieces. “Stock from a file” reads it.',
    },
    true,
  ),
  lotList(
    { ...reader, slug: 'gone', title: 'Lots without pieces', what: 'A lot of which nothing is left.' },
    false,
  ),
  readyList({
    ...reader,
    slug: 'ready',
    title: 'Ready to sell',
    what: 'A lot, whether it can be sold, and what speaks against it.',
  }),
];
