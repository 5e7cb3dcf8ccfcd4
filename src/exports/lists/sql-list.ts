import type pg from 'pg';
import type { CsvCell } from '../../platform/csv.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { inputAmount, priceOf } from '../../platform/words/money.ts';
import { convertMeasure } from '../../science/units.ts';
import { farmValue, listQuantities, type Quantity } from '../../water/quantities/quantities.ts';
import { pageOfQuery } from './keyed-sql.ts';
import type { Ask, ColumnType, ExportedList, ListPage, ListWords, PageAsked } from './list.ts';

/** Rows read at a time: enough to be quick, few enough that a list of any length fits (own choice). */
const rowsAtOnce = 2_000;

type Row = Record<string, unknown>;

/** One column as it goes out: its heads with their type, and the cells of a row. */
interface Column {
  heads: string[];
  type: ColumnType['type'];
  cells(row: Row): CsvCell[];
}

/** Numbers as the database has them, to nine digits: without the noise of binary fractions after a conversion. */
const rounded = (value: number): number => Number(value.toPrecision(9));

const measures = [
  { ending: ' (L)', measure: 'volume', canonical: 'L' },
  { ending: ' (mm)', measure: 'length', canonical: 'mm' },
  { ending: ' (g)', measure: 'mass', canonical: 'g' },
] as const;

/** Canonical, and beside it in the unit that the site reads, where that is another. */
function measured(name: string, { site }: Ask): Column | null {
  const found = measures.find(({ ending }) => name.endsWith(ending));
  if (found === undefined) return null;
  const { ending, measure, canonical } = found;
  const unit = site.units[measure] ?? canonical;
  if (unit === canonical)
    return { heads: [name], type: 'number', cells: (row) => [row[name] as number | null] };
  return {
    heads: [name, `${name.slice(0, -ending.length)} (${unit})`],
    type: 'number',
    cells: (row) => {
      const value = row[name] as number | null;
      return [value, value === null ? null : rounded(convertMeasure(measure, value, canonical, unit))];
    },
  };
}

/** How a column is named whose number is one of the quantity in the column "quantity". */
const ofQuantity = ' [quantity]';

function quantified(name: string, quantities: ReadonlyMap<unknown, Quantity>): Column | null {
  if (!name.endsWith(ofQuantity)) return null;
  const head = name.slice(0, -ofQuantity.length);
  return {
    heads: [`${head} (canonical unit)`, `${head} (farm unit)`],
    type: 'number',
    cells: (row) => {
      const quantity = quantities.get(row.quantity);
      const value = row[name] as number | null;
      if (value === null || quantity === undefined) return [value, null];
      return [value, rounded(farmValue(quantity, value).value)];
    },
  };
}

/** The code of a quantity, and the two units in which its numbers stand. */
function codeOf(name: string, quantities: ReadonlyMap<unknown, Quantity>): Column | null {
  if (name !== 'quantity') return null;
  return {
    heads: ['quantity', 'canonical unit', 'farm unit'],
    type: 'text',
    cells: (row) => {
      const quantity = quantities.get(row.quantity);
      const code = row.quantity as string | null;
      return [
        code,
        quantity?.canonicalUnit ?? null,
        quantity === undefined ? null : farmValue(quantity, 1).unit,
      ];
    },
  };
}

/** How a column is named that has minor units of the currency in the column "currency". */
const ofMoney = ' [money]';

/** An amount as people write it: 12.5 for 1250 cents. */
function money(name: string): Column | null {
  if (!name.endsWith(ofMoney)) return null;
  return {
    heads: [name.slice(0, -ofMoney.length)],
    type: 'number',
    cells: (row) => {
      const amount = priceOf(row[name] as number | null, row.currency as string | null);
      return [amount === null ? null : Number(inputAmount(amount))];
    },
  };
}

/** PostgreSQL's types that do not go out as text (pg_type.dat): bool, int2, int4, float4, float8, timestamptz. */
const typesByOid = new Map<number, ColumnType['type']>([
  [16, 'yes or no'],
  ...[21, 23, 700, 701].map((oid) => [oid, 'number'] as const),
  [1184, 'time'],
]);

function plain({ name, dataTypeID }: Field, { site }: Ask): Column {
  const type = typesByOid.get(dataTypeID) ?? 'text';
  return { heads: [name], type, cells: (row) => [cellOf(row[name], site.timeZone)] };
}

function cellOf(value: unknown, timeZone: string): CsvCell {
  if (value === null || value === undefined) return null;
  if (value instanceof Date) return isoTime(value, timeZone);
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'number' || typeof value === 'string') return value;
  return Array.isArray(value) ? value.join('; ') : JSON.stringify(value);
}

type Field = Pick<pg.FieldDef, 'name' | 'dataTypeID'>;

async function columnsOf(fields: readonly Field[], ask: Ask): Promise<Column[]> {
  const needed = fields.some(({ name }) => name === 'quantity');
  const quantities = new Map<unknown, Quantity>(
    needed ? (await listQuantities(ask.service.db)).map((one) => [one.code, one]) : [],
  );
  return fields.map((field) => {
    const { name } = field;
    return (
      measured(name, ask) ??
      quantified(name, quantities) ??
      codeOf(name, quantities) ??
      money(name) ??
      plain(field, ask)
    );
  });
}

/** What a query is about: it may name $1, the site, and $2, the time now. */
const valuesOf = (sql: string, { site, now }: Ask): unknown[] =>
  sql.includes('$2') ? [site.id, now] : sql.includes('$1') ? [site.id] : [];

/** The rows of a query in pieces, of one moment, through a cursor. */
async function* pieces(client: pg.PoolClient, sql: string, ask: Ask): AsyncGenerator<pg.QueryResult<Row>> {
  await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
  await client.query(`DECLARE listed NO SCROLL CURSOR FOR ${sql}`, valuesOf(sql, ask));
  for (;;) {
    const found = await client.query<Row>(`FETCH ${rowsAtOnce} FROM listed`);
    yield found;
    if (found.rows.length < rowsAtOnce) return;
  }
}

async function* rowsOf(sql: string, ask: Ask): AsyncGenerator<CsvCell[][]> {
  const client = await ask.service.pool.connect();
  try {
    let columns: Column[] | null = null;
    for await (const { fields, rows } of pieces(client, sql, ask)) {
      if (columns === null) {
        columns = await columnsOf(fields, ask);
        yield [columns.flatMap(({ heads }) => heads)];
      }
      const known = columns;
      yield rows.map((row) => known.flatMap(({ cells }) => cells(row)));
    }
  } finally {
    await client.query('ROLLBACK').catch(() => undefined);
    client.release();
  }
}

/** Columns without the units of the site: canonical, so that they are the same everywhere. */
const canonicalColumns = (fields: readonly Field[], ask: Ask): Promise<Column[]> =>
  columnsOf(fields, { ...ask, site: { ...ask.site, units: {} } });

const typed = (columns: readonly Column[]): ColumnType[] =>
  columns.flatMap(({ heads, type }) => heads.map((name) => ({ name, type })));

async function columnTypesOf(sql: string, ask: Ask): Promise<ColumnType[]> {
  const none = `SELECT * FROM (${sql}) AS described LIMIT 0`;
  const { fields } = await ask.service.pool.query(none, valuesOf(sql, ask));
  return typed(await canonicalColumns(fields, ask));
}

async function pageOf(sql: string, ask: Ask, asked: PageAsked): Promise<ListPage> {
  const { fields, rows, next } = await pageOfQuery(ask.service.pool, sql, valuesOf(sql, ask), asked);
  const columns = await canonicalColumns(fields, ask);
  return {
    columns: typed(columns),
    rows: rows.map((row) => columns.flatMap(({ cells }) => cells(row))),
    next,
  };
}

/**
 * A list that is one query: its columns go out under the names that the query gives them. A name ending in (L), (mm) or (g)
 * is canonical and gets the site's unit beside it; one ending in [quantity] is a number of the quantity whose code stands
 * in the column "quantity"; one ending in [money] is in minor units of the column "currency".
 */
export const sqlList = (words: ListWords, sql: string): ExportedList => ({
  ...words,
  rows: (ask) => rowsOf(sql, ask),
  columns: (ask) => columnTypesOf(sql, ask),
  page: (ask, asked) => pageOf(sql, ask, asked),
});
