import { afterAll, beforeAll, expect, test } from 'vitest';
import { loadCare } from '../../seed/care.ts';
import { demoPeople, growDemo, type Truth } from '../../seed/demo/grow.ts';
import { libraryKinds } from '../../seed/library.ts';
import type { Database } from '../../src/platform/database.ts';
import { freshDatabase } from '../support/database.ts';

const now = new Date('2026-10-26T10:30:00Z');
let database: Database;
let truth: Truth;

beforeAll(async () => {
  database = await freshDatabase();
  await loadCare(database.pool);
  truth = await growDemo(database.pool, { seed: 5, now });
});

afterAll(() => database.close());

const count = async (sql: string): Promise<number> => Number((await database.pool.query(sql)).rows[0].count);

test('the care library loads as often as one likes and stays as the farm has made it', async () => {
  await database.pool.query("UPDATE care_figure SET high = 111 WHERE figure = 'par_ceiling'");
  const before = await count('SELECT count(*) FROM care_figure');
  await loadCare(database.pool);
  expect(await count('SELECT count(*) FROM care_figure')).toBe(before);
  expect(await count("SELECT count(*) FROM care_figure WHERE figure = 'par_ceiling' AND high <> 111")).toBe(
    0,
  );
  expect(await count("SELECT count(*) FROM kind WHERE rank = 'taxon'")).toBe(libraryKinds().length);
  expect(await count("SELECT count(*) FROM kind WHERE rank = 'taxon' AND parent_id IS NULL")).toBe(0);
  expect(
    await count("SELECT count(*) FROM care_figure WHERE source ~ '\\(low confidence\\)'"),
  ).toBeGreaterThan(20);
});

test('the database took every row that the simulator made, and counts the pieces as the ledger says', async () => {
  expect(await count('SELECT count(*) FROM system')).toBe(4);
  expect(await count('SELECT count(*) FROM reading')).toBeGreaterThan(2500);
  expect(
    await count(`SELECT count(*) FROM lot WHERE pieces <>
      (SELECT sum(change) FROM ledger_entry WHERE ledger_entry.lot_id = lot.id)`),
  ).toBe(0);
  expect(
    await count(`SELECT count(*) FROM lot WHERE (pieces > 0) <>
      EXISTS (SELECT 1 FROM placement WHERE placement.lot_id = lot.id AND to_at IS NULL)`),
  ).toBe(0);
});

test('every account has a password that is hashed, and the owner is among them', async () => {
  const { rows } = await database.pool.query('SELECT email, role, password_hash FROM account ORDER BY email');
  expect(rows.map(({ email }) => email)).toEqual(demoPeople.map(({ email }) => email).sort());
  for (const { password_hash } of rows) expect(password_hash).toMatch(/^\$argon2id\$/);
});

test('one journal line says that the farm was grown', async () => {
  const { rows } = await database.pool.query('SELECT kind, detail FROM journal_line');
  expect(rows).toEqual([
    { kind: 'demo.grown', detail: expect.objectContaining({ seed: 5, lots: expect.any(Number) }) },
  ]);
});

test('the truth names rows that are there', async () => {
  for (const { subjectType, subjectIds } of truth.planted) {
    expect(subjectIds.length).toBeGreaterThan(0);
    const found = await database.pool.query(`SELECT id FROM ${subjectType} WHERE id = ANY($1)`, [subjectIds]);
    expect(found.rowCount).toBe(subjectIds.length);
  }
});

test('a second farm of the same name is refused and leaves nothing behind', async () => {
  const before = await count('SELECT count(*) FROM reading');
  await expect(growDemo(database.pool, { seed: 6, now })).rejects.toThrow(/site_name_key/);
  expect(await count('SELECT count(*) FROM reading')).toBe(before);
});
