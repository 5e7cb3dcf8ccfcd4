import type pg from 'pg';
import { expect, test } from 'vitest';
import { freshDatabase, type TestDatabase } from '../support/database.ts';
import { emptiedDatabase } from '../support/emptied-database.ts';
import { benchOn } from '../support/service.ts';

/** Rows and sequences of the service, and the numbers that come next. */
async function contentsOf(pool: pg.Pool): Promise<Record<string, string>> {
  const { rows } = await pool.query<{ name: string; kind: string }>(
    `SELECT relname AS name, relkind AS kind FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'S')`,
  );
  const contents: Record<string, string> = {};
  for (const { name, kind } of rows) {
    const text =
      kind === 'S'
        ? `SELECT concat(last_value, ' ', is_called) AS all FROM "${name}"`
        : `SELECT coalesce(json_agg(t ORDER BY t::text), '[]')::text AS all FROM "${name}" AS t`;
    contents[name] = (await pool.query<{ all: string }>(text)).rows[0]?.all ?? '';
  }
  return contents;
}

async function use(database: TestDatabase): Promise<void> {
  const bench = await benchOn(database);
  await bench.as('owner');
  await bench.close();
}

test('a database that one test file gave back is for the next as if it were new, and goes on as well', async () => {
  const made = await freshDatabase();
  const asMade = await contentsOf(made.pool);
  await made.close();
  const first = await emptiedDatabase();
  await use(first);
  const second = await emptiedDatabase();
  expect(second.name).toBe(first.name);
  expect(await contentsOf(second.pool)).toEqual(asMade);
  // No page is left whose room would be filled in another order.
  const { rows } = await second.pool.query(`SELECT pg_relation_size('account')::int AS bytes`);
  expect(rows).toEqual([{ bytes: 0 }]);
  await use(second);
});
