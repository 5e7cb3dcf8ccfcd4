import type pg from 'pg';

/** One table as an archive holds it. */
export interface Table {
  name: string;
  /** Quoted names of the columns that are kept: all but those PostgreSQL works out by itself. */
  columns: string[];
  /** Quoted names of the columns that order its rows: the primary key. */
  order: string[];
}

/**
 * Tables that mean something only to the service that runs: who is signed in, what changed since the watch looked,
 * wrong tries at a secret.
 */
export const leftOut: readonly string[] = [
  'session',
  'kept_form',
  'undoable_change',
  'undoable_row',
  'fact_mark',
  'system_watch',
  'wrong_try',
  '_prisma_migrations',
];

/** The settings under which two servers write the same value in the same words. */
export const plainSession =
  "SET TimeZone = 'UTC'; SET DateStyle = 'ISO'; SET IntervalStyle = 'postgres'; SET bytea_output = 'hex'; SET extra_float_digits = 1";

/** Every table of the farm, by name. */
export async function tablesOf(client: pg.ClientBase): Promise<Table[]> {
  const { rows } = await client.query<Table>(
    `SELECT c.relname AS name,
            array_agg(quote_ident(a.attname) ORDER BY a.attnum) AS columns,
            coalesce((SELECT array_agg(quote_ident(k.attname) ORDER BY n)
                        FROM pg_index i, unnest(i.indkey) WITH ORDINALITY AS key (attnum, n)
                        JOIN pg_attribute k ON k.attrelid = c.oid AND k.attnum = key.attnum
                       WHERE i.indrelid = c.oid AND i.indisprimary), '{}') AS order
       FROM pg_class c
       JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
      WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' AND c.relname <> ALL ($1)
      GROUP BY c.oid, c.relname
      ORDER BY c.relname`,
    [leftOut],
  );
  return rows;
}

/** The names of the migrations that made the database what it is, in order. */
export async function migrationsOf(client: pg.ClientBase): Promise<string[]> {
  const { rows } = await client.query<{ name: string }>(
    'SELECT migration_name AS name FROM _prisma_migrations WHERE finished_at IS NOT NULL AND rolled_back_at IS NULL ORDER BY migration_name',
  );
  return rows.map(({ name }) => name);
}

/** The rows of a table as PostgreSQL's text format for COPY, always in the same order. */
export const copyOut = ({ name, columns, order }: Table): string => {
  const sorted = order.length > 0 ? order : columns;
  return `COPY (SELECT ${columns.join(', ')} FROM public."${name}" ORDER BY ${sorted.join(', ')}) TO STDOUT`;
};

export const copyIn = ({ name, columns }: Table): string =>
  `COPY public."${name}" (${columns.join(', ')}) FROM STDIN`;
