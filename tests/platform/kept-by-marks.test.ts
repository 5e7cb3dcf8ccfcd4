import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { KeptByMarks } from '../../src/platform/database/kept-by-marks.ts';
import { connect, type Database } from '../../src/platform/database.ts';
import { freshDatabase, type TestDatabase } from '../support/database.ts';

let database: TestDatabase;
let own: Database;
let kept: KeptByMarks<number>;
let reads: string[][];
beforeAll(async () => {
  database = await freshDatabase();
  own = connect(database.url.replace(/\/[^/]*$/, `/${database.name}`), 3);
  await own.pool.query('CREATE TABLE coral (name text PRIMARY KEY, pieces int NOT NULL)');
});
afterAll(async () => {
  await own.close();
  await database.close();
});
beforeEach(async () => {
  await own.pool.query(
    `TRUNCATE coral; TRUNCATE fact_mark; INSERT INTO coral VALUES ('acan', 1), ('favia', 2), ('lobo', 3)`,
  );
  reads = [];
  kept = new KeptByMarks(own.pool, { isStale: (name, _, { part }) => part === name, most: 2 });
});

const read = async (names: readonly string[]) => {
  reads.push([...names]);
  const { rows } = await own.pool.query<{ name: string; pieces: number }>(
    'SELECT name, pieces FROM coral WHERE name = ANY($1) ORDER BY name',
    [names],
  );
  return new Map(rows.map(({ name, pieces }) => [name, pieces]));
};
const piecesOf = async (...names: string[]) => Object.fromEntries(await kept.of(names, read));

/** Adds a piece and marks it, as a trigger does. */
const grow = `WITH grown AS (UPDATE coral SET pieces = pieces + 1 WHERE name = $1)
  SELECT mark_facts($1, ARRAY[NULL::uuid])`;

test('is read once, and again after a change was marked that it rests on', async () => {
  expect(await piecesOf('acan', 'favia')).toEqual({ acan: 1, favia: 2 });
  expect(await piecesOf('favia', 'acan')).toEqual({ favia: 2, acan: 1 });
  await own.pool.query(grow, ['acan']);
  expect(await piecesOf('acan', 'favia')).toEqual({ acan: 2, favia: 2 });
  expect(reads).toEqual([['acan', 'favia'], ['acan']]);
});

test('sees what another commits when it commits, however long it took', async () => {
  const other = await own.pool.connect();
  try {
    await piecesOf('acan');
    await other.query('BEGIN');
    await other.query(grow, ['acan']);
    expect(await piecesOf('acan')).toEqual({ acan: 1 });
    await own.pool.query(grow, ['favia']);
    expect(await piecesOf('acan', 'favia')).toEqual({ acan: 1, favia: 3 });
    await other.query('COMMIT');
    expect(await piecesOf('acan')).toEqual({ acan: 2 });
  } finally {
    other.release();
  }
});

test('gives and does not keep what was read while a change was marked', async () => {
  await piecesOf('favia');
  const readBefore = async (names: readonly string[]) => {
    const found = await read(names);
    await own.pool.query(grow, ['acan']);
    await piecesOf('favia');
    return found;
  };
  expect(Object.fromEntries(await kept.of(['acan'], readBefore))).toEqual({ acan: 1 });
  expect(await piecesOf('acan')).toEqual({ acan: 2 });
});

test('answers many who ask at once, each with what was committed before it asked', async () => {
  const asked = Array.from({ length: 6 }, async (_, n) => {
    if (n === 3) await own.pool.query(grow, ['acan']);
    const { acan } = await piecesOf('acan');
    return n === 3 ? acan : 2;
  });
  expect(await Promise.all(asked)).toEqual([2, 2, 2, 2, 2, 2]);
});

test('keeps no more than it may, those asked for last', async () => {
  await piecesOf('acan', 'favia');
  await piecesOf('acan', 'lobo');
  reads = [];
  expect(await piecesOf('acan', 'lobo')).toEqual({ acan: 1, lobo: 3 });
  expect(reads).toEqual([]);
  expect(await piecesOf('favia')).toEqual({ favia: 2 });
  expect(reads).toEqual([['favia']]);
});

test('reads anew what does not serve who asks', async () => {
  await piecesOf('acan');
  await own.pool.query(`UPDATE coral SET pieces = 9 WHERE name = 'acan'`);
  expect(Object.fromEntries(await kept.of(['acan'], read, (pieces) => pieces > 5))).toEqual({ acan: 9 });
  expect(await piecesOf('acan')).toEqual({ acan: 9 });
});
