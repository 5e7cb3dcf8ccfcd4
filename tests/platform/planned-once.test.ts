import type pg from 'pg';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { askedBefore, mostNames } from '../../src/platform/database/planned-once.ts';
import { connect, type Database } from '../../src/platform/database.ts';
import { freshDatabase, type TestDatabase } from '../support/database.ts';

let database: TestDatabase;
let own: Database;
beforeAll(async () => {
  database = await freshDatabase();
  own = connect(database.url.replace(/\/[^/]*$/, `/${database.name}`), 1);
  await own.pool.query('CREATE TABLE coral (id int PRIMARY KEY, name text)');
});
afterAll(async () => {
  await own.close();
  await database.close();
});

/** What the one connection holds, as PostgreSQL tells it. */
const held = async (text: string) =>
  (
    await own.pool.query<{ runs: number }>(
      'SELECT (generic_plans + custom_plans)::int AS runs FROM pg_prepared_statements WHERE statement = $1',
      [text],
    )
  ).rows;

const ask = async (times: number, query: () => Promise<unknown>) => {
  for (let i = 0; i < times; i += 1) await query();
};

describe('a query that is asked again and again', () => {
  beforeEach(() => own.pool.query('TRUNCATE coral'));

  test('is read once by its connection, and answers by its values', async () => {
    await own.pool.query(`INSERT INTO coral VALUES (1, 'one'), (2, 'two')`);
    const text = 'SELECT name FROM coral WHERE id = $1';
    await ask(askedBefore, () => own.pool.query(text, [1]));
    expect(await held(text)).toEqual([]);
    await ask(9, () => own.pool.query(text, [1]));
    expect(await held(text)).toEqual([{ runs: 9 }]);
    expect((await own.pool.query(text, [2])).rows).toEqual([{ name: 'two' }]);
  });

  test('is read once where Prisma asks it, also within a transaction', async () => {
    await ask(9, () => own.db.site.findMany({ where: { name: 'North Hall' } }));
    await own.db.$transaction((tx) => tx.site.findMany({ where: { name: 'South Hall' } }));
    const { rows } = await own.pool.query<{ runs: number }>(
      `SELECT (generic_plans + custom_plans)::int AS runs FROM pg_prepared_statements WHERE statement LIKE '%"public"."site"%'`,
    );
    expect(rows).toEqual([{ runs: 10 - askedBefore }]);
  });

  test('answers after its table got another column, and after it was made anew', async () => {
    const text = 'SELECT * FROM coral WHERE id = $1';
    await own.pool.query(`INSERT INTO coral VALUES (1, 'one')`);
    await ask(9, () => own.pool.query(text, [1]));
    await own.pool.query('ALTER TABLE coral ADD COLUMN depth int');
    expect((await own.pool.query(text, [1])).rows).toEqual([{ id: 1, name: 'one', depth: null }]);
    await own.pool.query('DEALLOCATE ALL');
    expect((await own.pool.query(text, [1])).rows).toHaveLength(1);
    await own.pool.query('DROP TABLE coral');
    await own.pool.query('CREATE TABLE coral (id int PRIMARY KEY, name text)');
    expect((await own.pool.query(text, [1])).rows).toEqual([]);
  });

  test('within a transaction fails once where its table was altered, and answers in the next', async () => {
    const text = 'SELECT * FROM coral WHERE id = $1::int';
    await ask(9, () => own.pool.query(text, [1]));
    const inTransaction = async () => {
      const client = await own.pool.connect();
      try {
        await client.query('BEGIN');
        return (await client.query(text, [1])).rows;
      } finally {
        await client.query('ROLLBACK');
        client.release();
      }
    };
    await own.pool.query('ALTER TABLE coral ADD COLUMN flow text');
    await expect(inTransaction()).rejects.toMatchObject({ code: '0A000' });
    expect(await inTransaction()).toEqual([]);
  });

  test('fails with its own error, as one without a name does', async () => {
    const text = 'INSERT INTO coral (id, name) VALUES ($1, $2)';
    await ask(9, async () => {
      await own.pool.query('TRUNCATE coral');
      await own.pool.query(text, [1, 'one']);
    });
    await expect(own.pool.query(text, [1, 'one'])).rejects.toMatchObject({ code: '23505' });
  });
});

test('a connection holds no more names than it may, and asks the rest without', async () => {
  const client = await own.pool.connect();
  try {
    for (let n = 0; n < mostNames + 10; n += 1)
      await ask(askedBefore + 1, () => client.query(`SELECT $1::int + ${n} AS sum`, [1]));
    expect((await client.query<{ sum: number }>(`SELECT $1::int + ${mostNames} AS sum`, [2])).rows).toEqual([
      { sum: mostNames + 2 },
    ]);
    const { rows } = await client.query<{ n: number }>(
      'SELECT count(*)::int AS n FROM pg_prepared_statements',
    );
    expect(rows[0]?.n).toBeLessThanOrEqual(mostNames);
  } finally {
    client.release();
  }
});

test('a query that is no text with values goes as it is', async () => {
  const client: pg.PoolClient = await own.pool.connect();
  try {
    await ask(9, () => client.query('SELECT 1 AS one; SELECT 2 AS two'));
    await ask(9, () => client.query({ name: 'mine', text: 'SELECT $1::int AS one', values: [1] }));
    const { rows } = await client.query<{ name: string }>(
      `SELECT name FROM pg_prepared_statements WHERE statement LIKE 'SELECT $1::int AS one%'`,
    );
    expect(rows).toEqual([{ name: 'mine' }]);
  } finally {
    client.release();
  }
});
