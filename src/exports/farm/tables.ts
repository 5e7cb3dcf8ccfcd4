import type pg from 'pg';
import { leftOut, tablesOf } from '../../backups/contents.ts';

/** One column that goes out with its table. */
interface Column {
  /** Quoted. */
  name: string;
  /** As PostgreSQL names it: "text", "timestamp with time zone", "jsonb", ... */
  type: string;
  isRequired: boolean;
}

/** A column of bytes: each goes out as a file of its own, named after its row. */
export interface Binary {
  column: string;
  folder: string;
  /** SQL: how the name of a row's file ends. */
  ending: string;
}

/** A table of the farm as it goes out and comes in. */
export interface FarmTable {
  name: string;
  columns: Column[];
  /** Quoted names of the columns that order its rows: the primary key. */
  order: string[];
  binaries: Binary[];
  /** What is not told of a row, and what stands there once it has come in, as SQL. */
  untold: Record<string, string>;
}

/**
 * What belongs to one installation and not to the farm: its own keys, its tablets and links, its letters and backups,
 * requests it answered, what came and went by its broker, and whom it tells of alerts.
 */
export const ofInstallation: readonly string[] = [
  'account_link',
  'backup',
  'calendar_feed',
  'letter',
  'mqtt_connection',
  'mqtt_heard',
  'mqtt_message',
  'mqtt_told',
  'mqtt_unread',
  'request_key',
  'secret',
  'tablet',
  'tablet_person',
  'webhook',
  'webhook_delivery',
];

/** No password, PIN or access key fits it: it is no hash. */
const noSecret = `'!'`;

/** Secrets, which do not go out, and what stands in their place: people get a new link or PIN, instruments a new key. */
const untold: Record<string, Record<string, string>> = {
  account: {
    password_hash: `CASE WHEN r.email IS NOT NULL THEN ${noSecret} END`,
    pin_hash: `CASE WHEN r.email IS NULL THEN ${noSecret} END`,
    session_generation: '1',
  },
  access_key: { hash: `'! ' || r.id`, hint: `''` },
};

const binaries: Record<string, Binary[]> = {
  photo: [
    { column: 'image', folder: 'photos', ending: `'.jpg'` },
    { column: 'small', folder: 'photos/small', ending: `'.jpg'` },
  ],
  rack_photograph: [
    { column: 'straight', folder: 'photographs', ending: `'.jpg'` },
    { column: 'original', folder: 'photographs/original', ending: `'.jpg'` },
  ],
  attached_file: [
    {
      column: 'content',
      folder: 'files',
      ending: `CASE kind WHEN 'application/pdf' THEN '.pdf' ELSE '.jpg' END`,
    },
  ],
  site_mark: [{ column: 'image', folder: 'marks', ending: `'.png'` }],
  import: [{ column: 'content', folder: 'imports', ending: `'.txt'` }],
};

const columnTypes = `
  SELECT c.relname AS table, quote_ident(a.attname) AS name, format_type(a.atttypid, NULL) AS type,
         a.attnotnull AS "isRequired"
    FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
   WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r'
   ORDER BY c.relname, a.attnum`;

/** Every table of the farm, by name, as far as the database has it. */
export async function farmTables(client: pg.ClientBase): Promise<FarmTable[]> {
  const { rows } = await client.query<Column & { table: string }>(columnTypes);
  const columns = Map.groupBy(rows, ({ table }) => table);
  return (await tablesOf(client))
    .filter(({ name }) => !ofInstallation.includes(name))
    .map(({ name, order }) => {
      const files = binaries[name] ?? [];
      const apart = new Set([...files.map(({ column }) => column), ...Object.keys(untold[name] ?? {})]);
      const all = columns.get(name) ?? [];
      const there = new Set(all.map((column) => column.name));
      return {
        name,
        order,
        binaries: files,
        columns: all.filter((column) => !apart.has(column.name)),
        untold: Object.fromEntries(
          Object.entries(untold[name] ?? {}).filter(([column]) => there.has(column)),
        ),
      };
    });
}

/** The tables that do not come in but hold what ends when a farm does: they begin empty. */
export async function endedTables(client: pg.ClientBase): Promise<string[]> {
  const kept = ['secret', 'backup', 'session', 'kept_form', 'wrong_try', '_prisma_migrations'];
  const { rows } = await client.query<{ name: string }>(
    `SELECT relname AS name FROM pg_class
      WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname = ANY ($1) AND relname <> ALL ($2)`,
    [[...ofInstallation, ...leftOut], kept],
  );
  return rows.map(({ name }) => name);
}

/** What is known at the moment of export and stands in no column. */
export interface Moment {
  /** ISO 8601. An access key does not go out, so there it has ended by then. */
  at: string;
  /** Public keys of this installation that signed a tag, base64url. */
  tagKeys: readonly string[];
}

const literal = (text: string) => `'${text.replaceAll("'", "''")}'`;

/** Where the rows come from. Keys of tags: those that came from elsewhere, and the installation's own. */
function source({ name }: FarmTable, { tagKeys }: Moment): string {
  if (name !== 'tag_key' || tagKeys.length === 0) return `public."${name}"`;
  const own = tagKeys.map((key) => `(${literal(key)})`).join(', ');
  return `(SELECT key FROM public.tag_key UNION SELECT key FROM (VALUES ${own}) AS own (key)) AS tag_key`;
}

const told = (table: FarmTable, { name }: Column, { at }: Moment): string =>
  table.name === 'access_key' && name === 'ended_at'
    ? `coalesce(ended_at, greatest(created_at, ${literal(at)}::timestamptz))`
    : name;

const orderOf = ({ order, columns }: FarmTable) =>
  (order.length > 0 ? order : columns.map(({ name }) => name)).join(', ');

/** COPY of one column whose text has no control characters: it comes out and goes in as it is. */
const asItIs = String.raw`(FORMAT csv, QUOTE E'\x01', DELIMITER E'\x02')`;

/**
 * Text in which figures stand between marks, with what they were made from (`kept-words.ts`), as plain words: the figures
 * canonical with their unit. SQL of the same as `farmWords`; what is left of a cut figure never reaches over a quotation mark.
 */
const inPlainWords = (text: string): string =>
  `CASE WHEN strpos(${text}, U&'\\E000') > 0 OR strpos(${text}, U&'\\E002') > 0
        THEN regexp_replace(regexp_replace(${text}, U&'\\E000[^\\E001]*\\E001([^\\E002]*)\\E002', '\\1', 'g'), U&'\\E000[^\\E001"]*\\E001?|\\E002', '', 'g')
        ELSE ${text} END`;

/** Columns whose text may hold kept figures. */
const hasWords = ({ type }: Column) => ['text', 'text[]', 'json', 'jsonb'].includes(type);

/** The rows as JSON, one a line, always in the same order. */
export function linesOut(table: FarmTable, moment: Moment): string {
  const list = table.columns.map((column) => `${told(table, column, moment)} AS ${column.name}`).join(', ');
  const rows = `(SELECT ${list} FROM ${source(table, moment)} ORDER BY ${orderOf(table)}) AS r`;
  return `COPY (SELECT ${inPlainWords('line')} FROM (SELECT row_to_json(r)::text AS line FROM ${rows} OFFSET 0) AS lines) TO STDOUT ${asItIs}`;
}

/** A text that a spreadsheet would run as a formula (OWASP, CSV injection), numbers aside. */
const formula = String.raw`'^''*[=+\-@\t\r]'`;
const number = String.raw`'^[+-]?[0-9]*\.?[0-9]+$'`;

/** A column as a sheet shows it: times as ISO 8601, texts that are no formulas. */
function cell(expression: string, column: Column): string {
  const { type } = column;
  if (type === 'timestamp with time zone')
    return `to_char(${expression} AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')`;
  if (!hasWords(column)) return expression;
  if (type !== 'text') return inPlainWords(`${expression}::text`);
  const plain = `(${inPlainWords(expression)})`;
  return `CASE WHEN ${plain} ~ ${formula} AND ${plain} !~ ${number} THEN '''' || ${plain} ELSE ${plain} END`;
}

/** The rows as CSV with a head, in the same order. */
export function sheetOut(table: FarmTable, moment: Moment): string {
  const list = table.columns.map(
    (column) => `${cell(told(table, column, moment), column)} AS ${column.name}`,
  );
  // Readings that are packed stand in the sheet one by one, after the others; the rows that come in again hold them as packs.
  const packed =
    table.name === 'reading'
      ? ` UNION ALL SELECT ${list.join(', ')}
            FROM (SELECT DISTINCT system_id AS of_system, quantity_code AS of_code FROM public.reading_pack) AS kept
           CROSS JOIN LATERAL public.unpacked_readings(of_system, of_code, '-infinity', 'infinity') AS packed`
      : '';
  return `COPY ((SELECT ${list.join(', ')} FROM ${source(table, moment)} ORDER BY ${orderOf(table)})${packed})
            TO STDOUT (FORMAT csv, HEADER)`;
}

/** The next files of a column of bytes: the name and the content of each. `$1` is the id of the last one there was. */
export const filesOut = ({ name }: FarmTable, { column, folder, ending }: Binary): string =>
  `SELECT id, ${literal(`${folder}/`)} || id || ${ending} AS name, ${column} AS content FROM public."${name}"
    WHERE ${column} IS NOT NULL AND ($1::uuid IS NULL OR id > $1) ORDER BY id LIMIT 16`;

/** Where lines and files wait until they are rows. */
export const waitingRoom = `
  CREATE TEMP TABLE incoming_line (line json) ON COMMIT DROP;
  CREATE TEMP TABLE incoming_file (folder text, id uuid, content bytea, PRIMARY KEY (folder, id)) ON COMMIT DROP`;
export const linesIn = `COPY pg_temp.incoming_line FROM STDIN ${asItIs}`;

/** Makes rows of the lines and files that wait. */
export function rowsIn({ name, columns, binaries: files, untold: hidden }: FarmTable): string {
  const values = columns.map(({ name: column, type, isRequired }) =>
    type === 'jsonb' && isRequired ? `coalesce(r.${column}, 'null')` : `r.${column}`,
  );
  const names = [
    ...columns.map((column) => column.name),
    ...files.map(({ column }) => column),
    ...Object.keys(hidden),
  ];
  const joins = files.map(
    ({ folder }, i) =>
      `LEFT JOIN pg_temp.incoming_file AS file${i} ON file${i}.folder = ${literal(folder)} AND file${i}.id = r.id`,
  );
  const all = [...values, ...files.map((_, i) => `file${i}.content`), ...Object.values(hidden)];
  return `INSERT INTO public."${name}" (${names.join(', ')})
          SELECT ${all.join(', ')} FROM pg_temp.incoming_line
           CROSS JOIN LATERAL json_populate_record(NULL::public."${name}", line) AS r ${joins.join(' ')}`;
}
