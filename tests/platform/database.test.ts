import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Database } from '../../src/platform/database.ts';
import { freshDatabase } from '../support/database.ts';

let database: Database;

beforeAll(async () => {
  database = await freshDatabase();
});

afterAll(() => database.close());

const ended = (error: unknown) => expect(String(error)).toMatch(/terminat|closed|reset|not queryable/i);

test('a connection that the server ends is let go of: idle, lent out or at work', async () => {
  const { pool } = database;
  const lent = await pool.connect();
  const waiting = lent.query('SELECT pg_sleep(30)').catch(ended);
  const idle = await pool.connect();
  const alsoLent = await pool.connect();
  idle.release();
  await pool.query(
    'SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()',
  );
  await waiting;
  await alsoLent.query('SELECT 1').catch(ended);
  lent.release(true);
  alsoLent.release(true);
  expect((await pool.query<{ one: number }>('SELECT 1 AS one')).rows).toEqual([{ one: 1 }]);
  expect(await database.db.site.count()).toBe(0);
});
