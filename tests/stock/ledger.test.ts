import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { noteCondition, voidCondition } from '../../src/stock/lots/conditions.ts';
import { type COUNT_REASONS, countLot, countSold } from '../../src/stock/lots/ledger.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('the ledger', () => {
  let bench: Bench;
  let shelf: Shelf;
  const now = new Date('2026-11-24T08:00:00Z');
  const count = (lotId: string, reason: (typeof COUNT_REASONS)[number], pieces: number, at = now) =>
    bench.change((work) =>
      reason === 'sold'
        ? countSold(work, { lotId, pieces, at, note: '', tagId: null })
        : countLot(work, { lotId, reason, pieces, at, note: '' }),
    );
  const piecesOf = async (id: string) =>
    (await bench.service.db.lot.findUniqueOrThrow({ where: { id } })).pieces;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
  });
  afterAll(() => bench.close());

  test('adds up to the count of the lot', async () => {
    const lot = await shelf.lot({ pieces: 12 });
    await count(lot.id, 'lost', 2);
    await count(lot.id, 'sold', 3);
    expect(await count(lot.id, 'received', 1)).toMatchObject({ pieces: 8 });
    expect(await piecesOf(lot.id)).toBe(8);
  });

  test('a recount enters how many there are, and the line keeps the difference', async () => {
    const lot = await shelf.lot({ pieces: 12 });
    expect(await count(lot.id, 'recount', 9)).toMatchObject({ pieces: 9 });
    expect(await count(lot.id, 'recount', 9)).toMatchObject({ pieces: 9 });
    const lines = await bench.service.db.ledgerEntry.findMany({
      where: { lotId: lot.id, reason: 'recount' },
      orderBy: { id: 'asc' },
    });
    expect(lines.map((line) => line.change)).toEqual([-3, 0]);
  });

  test('a recount of an earlier day is compared with the count of that day', async () => {
    const lot = await shelf.lot({ pieces: 12 });
    await count(lot.id, 'sold', 4);
    expect(await count(lot.id, 'recount', 10, new Date('2026-11-10T08:00:00Z'))).toMatchObject({ pieces: 6 });
  });

  test('never falls below zero, and says how many there were', async () => {
    const lot = await shelf.lot({ pieces: 3 });
    await expect(count(lot.id, 'lost', 4)).rejects.toThrow('only 3 pieces');
    await count(lot.id, 'sold', 3);
    await expect(count(lot.id, 'lost', 1, new Date('2026-11-20T08:00:00Z'))).rejects.toThrow('below zero');
    expect(await piecesOf(lot.id)).toBe(0);
  });

  test('is guarded by the database itself: no negative count, no line changed or erased', async () => {
    const lot = await shelf.lot({ pieces: 3 });
    const { pool } = bench.service;
    const write = (change: number) =>
      pool.query(
        `INSERT INTO ledger_entry (id, lot_id, at, change, reason) VALUES (gen_random_uuid(), $1, now(), $2, 'lost')`,
        [lot.id, change],
      );
    await expect(write(-4)).rejects.toThrow('below zero');
    await expect(write(2)).rejects.toThrow('ledger_change_direction');
    await expect(pool.query('DELETE FROM ledger_entry WHERE lot_id = $1', [lot.id])).rejects.toThrow(
      'append-only',
    );
    await expect(pool.query('UPDATE lot SET pieces = -1 WHERE id = $1', [lot.id])).rejects.toThrow(
      'lot_pieces_not_negative',
    );
  });

  test('two people take the last piece at once: one does', async () => {
    const lot = await shelf.lot({ pieces: 1 });
    const answers = await Promise.allSettled([count(lot.id, 'sold', 1), count(lot.id, 'lost', 1)]);
    expect(answers.map((answer) => answer.status).sort()).toEqual(['fulfilled', 'rejected']);
    expect(await piecesOf(lot.id)).toBe(0);
  });
});

describe('the condition of lots', () => {
  let bench: Bench;
  let shelf: Shelf;
  const at = new Date('2026-11-24T08:00:00Z');
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
  });
  afterAll(() => bench.close());

  test('has a grade where the state has grades', async () => {
    const lot = await shelf.lot();
    const note = (state: 'paling' | 'well') =>
      bench.change((work) => noteCondition(work, { lotId: lot.id, state, grade: 2, note: '', at }));
    await note('paling');
    await note('well');
    const notes = await bench.service.db.condition.findMany({
      where: { lotId: lot.id },
      orderBy: { id: 'asc' },
    });
    expect(notes.map(({ state, grade }) => [state, grade])).toEqual([
      ['paling', 2],
      ['well', null],
    ]);
  });

  test('lost takes pieces off the count only when asked to', async () => {
    const lot = await shelf.lot({ pieces: 5 });
    const lost = (lostPieces: number | null) =>
      bench.change((work) =>
        noteCondition(work, {
          lotId: lot.id,
          state: 'lost',
          grade: null,
          note: 'Came loose',
          at,
          lostPieces,
        }),
      );
    await lost(null);
    const read = () => bench.service.db.lot.findUniqueOrThrow({ where: { id: lot.id } });
    expect((await read()).pieces).toBe(5);
    await lost(2);
    expect((await read()).pieces).toBe(3);
    await expect(lost(9)).rejects.toThrow('only 3 pieces');
  });

  test('is voided with a reason, once, and stays', async () => {
    const lot = await shelf.lot();
    const { id } = await bench.change((work) =>
      noteCondition(work, { lotId: lot.id, state: 'bleached', grade: 3, note: '', at }),
    );
    const voiding = () => bench.change((work) => voidCondition(work, id, 'Wrong lot'));
    await voiding();
    await expect(voiding()).rejects.toThrow('voided already');
    expect(await bench.service.db.condition.findUnique({ where: { id } })).toMatchObject({
      state: 'bleached',
      voidReason: 'Wrong lot',
    });
  });

  test('re-evaluates the system in which the lot stands', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A1')] });
    const touched: string[] = [];
    await bench.change((work) =>
      noteCondition(
        { ...work, reevaluate: (systemId) => touched.push(systemId) },
        { lotId: lot.id, state: 'paling', grade: 1, note: '', at },
      ),
    );
    expect(touched).toEqual([shelf.systemId]);
  });
});
