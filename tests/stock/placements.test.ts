import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { cellWords } from '../../src/stock/places/slots.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('where lots stand', () => {
  let bench: Bench;
  let shelf: Shelf;
  const now = new Date('2026-11-24T08:00:00Z');
  const move = (lotId: string, names: string[], at = now) =>
    bench.change((work) => moveLot(work, { lotId, slotIds: names.map(shelf.slot), at, reason: '' }));
  const stays = async (lotId: string) =>
    (
      await bench.service.db.placement.findMany({
        where: { lotId },
        include: { slots: true },
        orderBy: { fromAt: 'asc' },
      })
    ).map(({ fromAt, toAt, slots }) => ({ fromAt, toAt, slots: slots.length }));

  beforeAll(async () => {
    bench = await startBench();
    shelf = await makeShelf(bench);
  });
  afterAll(() => bench.close());

  test('a move ends one stay and starts the next at the same moment', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A1')] });
    const moved = await move(lot.id, ['B5', 'B6']);
    expect(moved).toMatchObject({ changed: true, place: 'Rack S2, B5 to B6' });
    expect(await stays(lot.id)).toEqual([
      { fromAt: new Date('2026-11-01T09:00:00Z'), toAt: now, slots: 1 },
      { fromAt: now, toAt: null, slots: 2 },
    ]);
    await move(lot.id, []);
  });

  test('a move to where it stands already changes nothing', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A7')] });
    expect(await move(lot.id, ['A7'])).toMatchObject({ changed: false, place: 'Rack S2, A7' });
    expect(await stays(lot.id)).toHaveLength(1);
    await move(lot.id, []);
  });

  test('a lot moved again within the same minute has no placement in between', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A8')] });
    await move(lot.id, ['A9']);
    await move(lot.id, ['A10']);
    expect(await stays(lot.id)).toHaveLength(2);
    await move(lot.id, [], new Date('2026-11-24T08:01:00Z'));
  });

  test('a time typed to the minute is not refused because a lot came or left seconds later', async () => {
    const first = await shelf.lot({
      arrivedAt: new Date('2026-11-24T07:30:40.500Z'),
      slotIds: [shelf.slot('B8')],
    });
    const typed = new Date('2026-11-24T07:30:00Z');
    await move(first.id, ['B9'], typed);
    const second = await shelf.lot();
    await move(second.id, ['B8'], typed);
    expect(await stays(first.id)).toMatchObject([
      { fromAt: new Date('2026-11-24T07:30:40.500Z'), toAt: null },
    ]);
    expect(await stays(second.id)).toMatchObject([{ fromAt: typed, toAt: null }]);
    await move(first.id, ['B10'], new Date('2026-11-24T07:31:20.250Z'));
    const third = await shelf.lot();
    await move(third.id, ['B9'], new Date('2026-11-24T07:31:00Z'));
    expect(await stays(third.id)).toMatchObject([
      { fromAt: new Date('2026-11-24T07:31:20.250Z'), toAt: null },
    ]);
  });

  test('a taken slot is refused in words that name who stands there', async () => {
    const first = await shelf.lot({ slotIds: [shelf.slot('A4')] });
    const second = await shelf.lot();
    await expect(move(second.id, ['A4'])).rejects.toThrow(
      `Rack S2, A4 is taken by ${first.code} (Goniastrea retiformis)`,
    );
    expect(await stays(second.id)).toEqual([]);
  });

  test('a slot that was taken at that time is refused as well', async () => {
    const first = await shelf.lot({ slotIds: [shelf.slot('B1')] });
    await move(first.id, ['B2']);
    const second = await shelf.lot();
    await expect(move(second.id, ['B1'], new Date('2026-11-20T08:00:00Z'))).rejects.toThrow(
      'was still taken',
    );
  });

  test('a lot is not placed before it came, nor without pieces', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A5')] });
    await expect(move(lot.id, ['A6'], new Date('2026-10-01T08:00:00Z'))).rejects.toThrow('no pieces');
    await move(lot.id, ['A11']);
    await expect(move(lot.id, ['A12'], new Date('2026-11-10T08:00:00Z'))).rejects.toThrow('only after that');
    const gone = await shelf.lot({ pieces: 1 });
    await bench.change((work) =>
      countLot(work, { lotId: gone.id, reason: 'lost', pieces: 1, at: now, note: '' }),
    );
    await expect(move(gone.id, ['A6'])).rejects.toThrow('No pieces');
  });

  test('a lot with no pieces left leaves its slot', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A6')] });
    await bench.change((work) =>
      countLot(work, { lotId: lot.id, reason: 'sold', pieces: 5, at: now, note: '' }),
    );
    expect(await stays(lot.id)).toMatchObject([{ toAt: now }]);
  });

  test('two tablets move into one slot at once: one succeeds, the other is told who stands there', async () => {
    const lots = [await shelf.lot(), await shelf.lot()];
    const answers = await Promise.allSettled(lots.map((lot) => move(lot.id, ['B4'])));
    const refused = answers.flatMap((answer) =>
      answer.status === 'rejected' ? [String(answer.reason)] : [],
    );
    expect(refused).toHaveLength(1);
    const winner = lots[answers.findIndex((answer) => answer.status === 'fulfilled')];
    expect(refused[0]).toContain(`is taken by ${winner?.code}`);
  });

  test('two tablets move one lot at once: the moves follow each other', async () => {
    const lot = await shelf.lot();
    const later = new Date('2026-11-24T08:05:00Z');
    await Promise.allSettled([move(lot.id, ['B5'], now), move(lot.id, ['B6'], later)]);
    const open = await bench.service.db.placement.count({ where: { lotId: lot.id, toAt: null } });
    expect(open).toBe(1);
    await move(lot.id, [], new Date('2026-11-24T09:00:00Z'));
  });

  test('slots of two racks are refused as one place', async () => {
    const { tankId } = await bench.service.db.rack.findUniqueOrThrow({ where: { id: shelf.rackId } });
    const rack = await bench.service.db.rack.create({
      data: { tankId, name: 'Rack S3', rows: 1, columns: 1, depthMm: 100 },
    });
    const far = await bench.service.db.slot.create({ data: { rackId: rack.id, row: 1, column: 1 } });
    const lot = await shelf.lot();
    const slotIds = [far.id, shelf.slot('B6')];
    await expect(
      bench.change((work) => moveLot(work, { lotId: lot.id, slotIds, at: now, reason: '' })),
    ).rejects.toThrow('stands on one rack');
  });

  test('the database itself refuses two lots in one slot and one lot in two places', async () => {
    const here = await shelf.lot({ slotIds: [shelf.slot('B3')] });
    const lot = await shelf.lot();
    const { db } = bench.service;
    const open = () => db.placement.create({ data: { lotId: lot.id, fromAt: now } });
    const { id } = await open();
    await expect(open()).rejects.toThrow('placement_lot_once');
    await expect(
      bench.service.pool.query('INSERT INTO placement_slot (placement_id, slot_id) VALUES ($1, $2)', [
        id,
        shelf.slot('B3'),
      ]),
    ).rejects.toThrow('placement_slot_free');
    expect(await stays(here.id)).toHaveLength(1);
  });
});

describe('a place in words', () => {
  test.each([
    [[[1, 3]], 'A3'],
    [
      [
        [1, 3],
        [1, 4],
        [1, 5],
      ],
      'A3 to A5',
    ],
    [
      [
        [2, 1],
        [1, 6],
        [1, 5],
        [2, 3],
      ],
      'A5 to A6, B1, B3',
    ],
  ])('draws neighbours together', (cells, words) => {
    expect(cellWords(cells.map(([row = 0, column = 0]) => ({ row, column })))).toBe(words);
  });
});
