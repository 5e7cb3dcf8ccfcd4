import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { constraintOf, constraintWords, refusalOf } from '../../src/platform/constraints.ts';
import { Refusal } from '../../src/platform/refusal.ts';
import { makeShelf } from '../stock/shelf.ts';
import { type Bench, startBench } from '../support/service.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  const shelf = await makeShelf(bench);
  await shelf.lot({ slotIds: [shelf.slot('A12')] });
});
afterAll(() => bench.close());

const thrownBy = (promise: Promise<unknown>): Promise<unknown> =>
  promise.then(
    () => {
      throw new Error('the database refused nothing');
    },
    (error: unknown) => error,
  );

/** What the database answers to a statement through the client, in a transaction of the client, and through pg. */
const answersTo = async (sql: string): Promise<unknown[]> => [
  await thrownBy(bench.service.db.$executeRawUnsafe(sql)),
  await thrownBy(bench.service.db.$transaction((tx) => tx.$executeRawUnsafe(sql))),
  await thrownBy(bench.service.pool.query(sql)),
];

const tankNamed = (name: string) => `
  INSERT INTO tank (id, system_id, name, length_mm, width_mm, height_mm)
  SELECT gen_random_uuid(), system_id, said.name, 1, 1, 1 FROM (SELECT system_id FROM tank LIMIT 1) AS one, (VALUES ('${name}'), ('${name}')) AS said(name)`;

describe('the constraint that the database names', () => {
  test.each([
    ['a unique index', tankNamed('Twice'), 'tank_system_id_name_key'],
    ['a check', 'UPDATE lot SET pieces = -1', 'lot_pieces_not_negative'],
    [
      'an exclusion',
      'INSERT INTO placement (id, lot_id, from_at, reason) SELECT gen_random_uuid(), lot_id, from_at, reason FROM placement',
      'placement_lot_once',
    ],
    ['a trigger', 'UPDATE rack SET columns = 11', 'rack_keeps_lots'],
  ])('is the same through the client and through pg: %s', async (_, sql, name) => {
    expect((await answersTo(sql)).map(constraintOf)).toEqual([name, name, name]);
  });

  test('is found where the client writes a row itself', async () => {
    const { db } = bench.service;
    const { id: _id, ...row } = await db.tank.findFirstOrThrow();
    const error = await thrownBy(db.tank.create({ data: row }));
    expect(refusalOf(error)).toMatchObject({ status: 409, fields: [{ field: 'name' }] });
  });

  test('is not taken from a value that looks like one', async () => {
    const named = await answersTo(tankNamed('lot_code_key'));
    expect(named.map(constraintOf)).toEqual(Array(3).fill('tank_system_id_name_key'));
    const noted = await answersTo(`UPDATE lot SET size_mm = -1, note = '"reading_kept"'`);
    expect(noted.map(refusalOf)).toEqual([null, null, null]);
    const typed = await answersTo(`SELECT 'lot_code_key: "lot_code_key"'::int`);
    expect(typed.map(refusalOf)).toEqual([null, null, null]);
  });

  test('of an error from elsewhere is none, and a refusal stays the one it is', () => {
    expect(refusalOf(new Error('lot_code_key'))).toBeNull();
    expect(refusalOf(null)).toBeNull();
    const refusal = new Refusal('Not today.');
    expect(refusalOf(refusal)).toBe(refusal);
  });
});

test('every constraint that is put into words is one of the database: a constraint, a unique index or a trigger', async () => {
  const { rows } = await bench.service.pool.query<{ name: string }>(`
    SELECT conname AS name FROM pg_constraint
    UNION SELECT relname FROM pg_class JOIN pg_index ON indexrelid = pg_class.oid AND indisunique
    UNION SELECT (regexp_matches(prosrc, 'CONSTRAINT = ''(\\w+)''', 'g'))[1] FROM pg_proc WHERE pronamespace = 'public'::regnamespace`);
  const there = new Set(rows.map(({ name }) => name));
  expect(Object.keys(constraintWords).filter((name) => !there.has(name))).toEqual([]);
});

test("a trigger's message begins with the name of its constraint", async () => {
  const { rows } = await bench.service.pool.query<{ message: string; name: string }>(`
    SELECT said[1] AS message, said[2] AS name FROM pg_proc,
           regexp_matches(prosrc, 'RAISE EXCEPTION ''([^'']*)''[^;]*CONSTRAINT = ''(\\w+)''', 'g') AS said
     WHERE pronamespace = 'public'::regnamespace`);
  expect(rows.length).toBeGreaterThan(5);
  expect(rows.filter(({ message, name }) => !message.startsWith(`${name}: `))).toEqual([]);
});
