import type pg from 'pg';

/** The keys of one table to others. */
interface Keys {
  table: string;
  keys: { name: string; definition: string }[];
}

// A table is altered once for all of its keys: each time the server reads it anew, and there are some 300 keys.

/** Keys between tables are set aside while the rows come in, and made again after: some point in circles. */
async function setKeysAside(client: pg.ClientBase): Promise<Keys[]> {
  const { rows } = await client.query<Keys>(
    `SELECT conrelid::regclass::text AS table,
            json_agg(json_build_object('name', quote_ident(conname), 'definition', pg_get_constraintdef(oid)) ORDER BY conname) AS keys
       FROM pg_constraint WHERE contype = 'f' AND connamespace = 'public'::regnamespace GROUP BY conrelid`,
  );
  for (const { table, keys } of rows)
    await client.query(
      `ALTER TABLE ${table} ${keys.map(({ name }) => `DROP CONSTRAINT ${name}`).join(', ')}`,
    );
  return rows;
}

async function makeKeysAgain(client: pg.ClientBase, tables: readonly Keys[]): Promise<void> {
  for (const { table, keys } of tables)
    await client.query(
      `ALTER TABLE ${table} ${keys.map(({ name, definition }) => `ADD CONSTRAINT ${name} ${definition}`).join(', ')}`,
    );
  // Of readings some keys are held by what `reading_origin` names; databases of earlier versions hold them as all others.
  const { rows } = await client.query<{ holds: boolean }>(
    "SELECT to_regprocedure('hold_all_readings()') IS NOT NULL AS holds",
  );
  if (rows[0]?.holds) await client.query('SELECT hold_all_readings()');
}

async function setTriggers(
  client: pg.ClientBase,
  tables: readonly string[],
  to: 'ENABLE' | 'DISABLE',
): Promise<void> {
  for (const name of tables) await client.query(`ALTER TABLE public."${name}" ${to} TRIGGER USER`);
}

async function setCounters(client: pg.ClientBase): Promise<void> {
  const { rows } = await client.query<{ table: string; column: string; sequence: string }>(
    `SELECT a.attrelid::regclass::text AS table, quote_ident(a.attname) AS column,
            pg_get_serial_sequence(a.attrelid::regclass::text, a.attname) AS sequence
       FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid AND c.relkind = 'r'
      WHERE c.relnamespace = 'public'::regnamespace AND a.attnum > 0 AND NOT a.attisdropped
        AND pg_get_serial_sequence(a.attrelid::regclass::text, a.attname) IS NOT NULL`,
  );
  for (const { table, column, sequence } of rows)
    await client.query(`SELECT setval($1, coalesce(max(${column}), 0) + 1, false) FROM ${table}`, [sequence]);
}

/**
 * Lets `fill` write rows as they are: keys between tables and the service's triggers, which would write journal lines and
 * marks anew, are set aside meanwhile. Then the keys are made again, which checks them, and counters go on after what is
 * there. Part of the caller's transaction.
 */
export async function withRulesAside<T>(
  client: pg.ClientBase,
  tables: readonly string[],
  fill: () => Promise<T>,
): Promise<T> {
  const keys = await setKeysAside(client);
  await setTriggers(client, tables, 'DISABLE');
  const filled = await fill();
  await makeKeysAgain(client, keys);
  await setTriggers(client, tables, 'ENABLE');
  await setCounters(client);
  return filled;
}
