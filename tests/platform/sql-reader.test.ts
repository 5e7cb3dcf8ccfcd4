import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readerOf, type SqlReader } from '../../src/platform/database/sql-reader.ts';
import { type Bench, startBench } from '../support/service.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());

const siteNamed = async (reader: SqlReader, name: string) =>
  (await reader.query<{ name: string }>('SELECT name FROM site WHERE name = $1::text', [name])).rows;

describe('a reader of SQL', () => {
  test('inside a transaction sees what the transaction wrote; the pool does not', async () => {
    const { db, pool } = bench.service;
    await expect(
      db.$transaction(async (tx) => {
        await tx.site.create({ data: { name: 'New Farm', timeZone: 'Europe/Paris' } });
        expect(await siteNamed(readerOf(tx), 'New Farm')).toEqual([{ name: 'New Farm' }]);
        expect(await siteNamed(pool, 'New Farm')).toEqual([]);
        throw new Error('taken back');
      }),
    ).rejects.toThrow('taken back');
  });

  test('inside a transaction runs queries one after another, in the order they were asked', async () => {
    const order: number[] = [];
    await bench.service.db.$transaction(async (tx) => {
      const reader = readerOf(tx);
      const slowThenQuick = [0.2, 0].map((seconds, i) =>
        reader.query('SELECT pg_sleep($1::float8)::text', [seconds]).then(() => order.push(i)),
      );
      await Promise.all(slowThenQuick);
    });
    expect(order).toEqual([0, 1]);
  });

  test('inside a transaction goes on after a query that failed, once that is rolled back', async () => {
    await bench.service.db.$transaction(async (tx) => {
      const reader = readerOf(tx);
      await tx.$executeRaw`SAVEPOINT before`;
      await expect(reader.query('SELECT 1 / 0')).rejects.toThrow();
      await tx.$executeRaw`ROLLBACK TO SAVEPOINT before`;
      expect((await reader.query('SELECT 1 AS one')).rows).toEqual([{ one: 1 }]);
    });
  });
});
