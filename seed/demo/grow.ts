import { hash } from '@node-rs/argon2';
import type { Pool, PoolClient } from 'pg';
import { gatherStatistics } from '../../src/platform/database/statistics.ts';
import type { DemoTables } from './rows.ts';
import { simulate } from './simulate.ts';
import type { Truth } from './truth.ts';

export { demoPeople } from './people.ts';
export type { Truth } from './truth.ts';

type Row = Record<string, unknown>;

/**
 * Grows the demo farm into a database that holds the care library: everything in one transaction.
 * @returns what truly was, for comparison with what the service finds
 * @throws when the library is not loaded, or a farm of this name is there already
 */
export async function growDemo(pool: Pool, input: { seed: number; now: Date }): Promise<Truth> {
  const { tables, truth } = simulate(input);
  const client = await pool.connect();
  try {
    await client.query('BEGIN');
    const library = await libraryKeys(client);
    for (const [table, rows] of Object.entries(tables)) {
      await write(client, snake(table), await ready(table as keyof DemoTables, rows, library));
    }
    await client.query('COMMIT');
    await gatherStatistics(client);
    return truth;
  } catch (error) {
    await client.query('ROLLBACK');
    throw error;
  } finally {
    client.release();
  }
}

/** The database's keys of kinds (by code) and methods (by quantity and name). */
async function libraryKeys(client: PoolClient): Promise<Map<string, string>> {
  const { rows } = await client.query<{ name: string; id: string }>(
    `SELECT 'kind ' || code AS name, id FROM kind
     UNION ALL SELECT 'method ' || quantity_code || ' ' || name, id FROM method`,
  );
  return new Map(rows.map(({ name, id }) => [name, id]));
}

/** Rows as the database wants them: keys for the library's names, hashes for passwords. */
async function ready(table: keyof DemoTables, rows: Row[], library: Map<string, string>): Promise<Row[]> {
  const key = (name: string) => {
    const id = library.get(name);
    if (id === undefined) throw new Error(`the care library is not loaded: there is no ${name}`);
    return id;
  };
  switch (table) {
    case 'account':
      return Promise.all(
        rows.map(async (row) => ({ ...row, passwordHash: await hash(String(row.password)) })),
      );
    case 'lot':
      return rows.map((row) => ({ ...row, kindId: key(`kind ${row.kindCode}`) }));
    case 'kit':
    case 'reading':
      return rows.map((row) => ({ ...row, methodId: key(`method ${row.quantityCode} ${row.methodName}`) }));
    default:
      return rows;
  }
}

/** What helps to find a row's keys but is no column of its own. */
const HELPERS: Readonly<Record<string, readonly string[]>> = {
  account: ['password'],
  lot: ['kindCode'],
  kit: ['quantityCode', 'methodName'],
  reading: ['methodName'],
};

async function write(client: PoolClient, table: string, rows: Row[]): Promise<void> {
  if (rows.length === 0) return;
  const helpers = HELPERS[table] ?? [];
  const names = [...new Set(rows.flatMap((row) => Object.keys(row)))].filter(
    (name) => !helpers.includes(name),
  );
  const columns = names.map((name) => `"${snake(name)}"`).join(', ');
  const given = rows.map((row) => Object.fromEntries(names.map((name) => [snake(name), row[name]])));
  await client.query(
    `INSERT INTO "${table}" (${columns}) SELECT ${columns} FROM json_populate_recordset(NULL::"${table}", $1)`,
    [JSON.stringify(given)],
  );
}

const snake = (name: string) => name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
