import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { cellWords } from '../../src/stock/places/slots.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

const now = new Date('2026-11-24T08:00:00Z');

describe('where lots stand', () => {
  let bench: Bench;
  let shelf: Shelf;
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
    bench = await startBench({ watching: false });
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
      countLot(work, { lotId: lot.id, reason: 'lost', pieces: 5, at: now, note: '' }),
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
    ).rejects.toThrow('has slots on one rack');
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

describe('what was entered wrong of a lot', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  let manager: Visitor;
  let longId = '';
  const longSlots = new Map<string, string>();
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Odo Brandt');
    manager = await bench.as('manager', 'Ines Varga');
    const { db } = bench.service;
    const { tankId } = await db.rack.findUniqueOrThrow({ where: { id: shelf.rackId } });
    const rack = await db.rack.create({
      data: { tankId, name: 'Rack L', rows: 2, columns: 10, depthMm: 100 },
    });
    longId = rack.id;
    for (let column = 1; column <= 10; column++) {
      const slot = await db.slot.create({ data: { rackId: rack.id, row: 2, column } });
      longSlots.set(`B${column}`, slot.id);
    }
  });
  afterAll(() => bench.close());

  const stays = (lotId: string) =>
    bench.service.db.placement.findMany({
      where: { lotId },
      include: { slots: true },
      orderBy: { fromAt: 'asc' },
    });
  const said = async (lotId: string, kind: string) =>
    (
      await bench.service.db.journalLine.findFirst({
        where: { subjectId: lotId, kind },
        orderBy: { id: 'desc' },
      })
    )?.detail;
  const moved = (lotId: string, name: string, at: string) =>
    bench.change((work) =>
      moveLot(work, { lotId, slotIds: [shelf.slot(name)], at: new Date(at), reason: '' }),
    );
  const day = (typed: Date | null | undefined) => typed?.toISOString().slice(0, 16) ?? null;

  test('the date received is corrected with its line of the ledger, its first place and lots split off it', async () => {
    const lot = await shelf.lot({ ownCode: 'W-1', slotIds: [shelf.slot('A1')] });
    const split = await hand.post(`/lots/${lot.id}/splits`, {
      pieces: '2',
      slot: [],
      at: '2026-11-20T10:00',
    });
    expect(split.status, split.body).toBe(303);
    const page = await hand.get(`/stock/${lot.code}`);
    expect(page.body).toContain(`href="/stock/${lot.code}/received"`);
    const late = await hand.post(`/lots/${lot.id}/received`, { at: '2026-11-22T10:00' });
    expect(late.status).toBe(422);
    expect(late.body).toContain('Its count changed before that');
    const done = await hand.post(`/lots/${lot.id}/received`, { at: '2026-10-05T10:00' });
    expect(done.status, done.body).toBe(303);
    const { db } = bench.service;
    const lots = await db.lot.findMany({ where: { OR: [{ id: lot.id }, { parentId: lot.id }] } });
    expect(lots.map(({ arrivedAt }) => day(arrivedAt))).toEqual(['2026-10-05T09:00', '2026-10-05T09:00']);
    const [line] = await db.ledgerEntry.findMany({ where: { lotId: lot.id }, orderBy: { at: 'asc' } });
    expect(day(line?.at)).toBe('2026-10-05T09:00');
    expect((await stays(lot.id)).map(({ fromAt }) => day(fromAt))).toEqual(['2026-10-05T09:00']);
    expect(await said(lot.id, 'lot.arrival_corrected')).toMatchObject({
      before: { received: '2026-11-01T09:00:00.000Z' },
      after: { received: '2026-10-05T09:00:00.000Z' },
    });
  });

  const list = async () => (await hand.get('/stock')).body;
  const long = (name: string) => longSlots.get(name) ?? '';

  test('after pieces went it is asked which slots are empty, with the last proposed, and the lot has not moved', async () => {
    const { db, pool } = bench.service;
    const slotIds = ['B1', 'B2', 'B3'].map(long);
    const lot = await shelf.lot({ pieces: 3, slotIds });
    const page = async () => (await hand.get(`/stock/${lot.code}`)).body;
    const placed = async () =>
      (
        await pool.query<{ slots: string[]; since: Date }>(
          `SELECT array_agg(slot_name ORDER BY slot_name) AS slots, min(from_at) AS since FROM lot_place WHERE lot_id = $1`,
          [lot.id],
        )
      ).rows[0];
    expect(await page()).not.toContain('which slots are empty');
    const sold = await hand.post(`/lots/${lot.id}/sales`, {
      pieces: '1',
      buyer: 'A. Buyer',
      at: '2026-11-20T09:00',
    });
    expect(sold.status, sold.body).toBe(303);
    expect(await page()).toMatch(/2 pieces on 3 slots: which slots are empty\?/);
    expect(await page()).toContain(`value="${long('B3')}" checked`);
    expect(await page()).not.toContain(`value="${long('B2')}" checked`);
    const asks = { lot: lot.id, back: `/stock/${lot.code}` };
    const all = await hand.post('/stock/slots', { ...asks, empty: slotIds });
    expect(all.status).toBe(409);
    expect(all.body).toContain('leave it at least one slot');
    const done = await hand.post('/stock/slots', { ...asks, empty: long('B2') });
    expect(done.status, done.body).toBe(303);
    const after = await page();
    expect(after).toContain('Free now: Rack L, B2.');
    expect(after).toContain('action="/undo/');
    // Since when it is there, and what its rounds saw before, stay as they were.
    expect(await placed()).toEqual({ slots: ['B1', 'B3'], since: new Date('2026-11-01T09:00:00Z') });
    expect((await hand.post('/stock/slots', { ...asks, empty: long('B3') })).status).toBe(404);

    const loss = await hand.post(`/lots/${lot.id}/ledger`, { reason: 'lost', pieces: '1', at: '' });
    expect(loss.status, loss.body).toBe(303);
    expect((await hand.get(`/racks/${longId}`)).body).toContain(
      '1 lot has fewer pieces than slots. <a href="/stock/slots?rack=',
    );
    expect((await hand.get('/')).body).toContain('1 lot has fewer pieces than slots: say which are empty');
    expect((await hand.get('/stock/slots')).body).toContain('1 piece on 2 slots');
    await hand.post('/stock/slots', { ...asks, empty: long('B3') });
    const line = await db.ledgerEntry.findFirstOrThrow({ where: { lotId: lot.id, reason: 'lost' } });
    await hand.post(`/counts/${line.id}/voiding`, { reason: 'It was another lot' });
    expect(await placed()).toMatchObject({ slots: ['B1', 'B3'] });
  });

  test('a lot on more slots than pieces covers them: so it was placed, or so somebody said', async () => {
    const colony = await shelf.lot({
      pieces: 1,
      slotIds: ['B5', 'B6', 'B7'].map(long),
      ownCode: 'BIG',
    });
    expect(await list()).toContain('Rack L, covers B5 to B7');
    expect((await hand.get(`/stock/${colony.code}`)).body).not.toContain('which slots are empty');
    const lot = await shelf.lot({ pieces: 2, slotIds: ['B9', 'B10'].map(long), ownCode: 'GROWN' });
    await hand.post(`/lots/${lot.id}/ledger`, { reason: 'recount', pieces: '1', at: '' });
    expect(await list()).toContain('Rack L, B9 to B10');
    const said = await hand.post('/stock/slots', { lot: lot.id, empty: long('B10'), none: 'yes' });
    expect(said.status, said.body).toBe(303);
    expect(await list()).toContain('Rack L, covers B9 to B10');
    expect((await hand.get('/stock/slots')).body).not.toContain('GROWN');
  });

  test('the ledger takes another time or person of a line, and nothing else', async () => {
    const lot = await shelf.lot();
    const { pool } = bench.service;
    const change = (set: string) => pool.query(`UPDATE ledger_entry SET ${set} WHERE lot_id = $1`, [lot.id]);
    await expect(change('change = 7')).rejects.toThrow('append-only');
    await expect(pool.query('DELETE FROM ledger_entry WHERE lot_id = $1', [lot.id])).rejects.toThrow(
      'append-only',
    );
    await change(`at = at - interval '1 day'`);
    await bench.change((work) =>
      countLot(work, { lotId: lot.id, pieces: 5, reason: 'lost', at: now, note: '' }),
    );
    await expect(change(`at = CASE change WHEN 5 THEN at + interval '90 days' ELSE at END`)).rejects.toThrow(
      'ledger_not_below_zero',
    );
  });

  test('a place and its time are corrected, and the place before ends then', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A3')] });
    await moved(lot.id, 'B3', '2026-11-15T09:00:00Z');
    const other = await shelf.lot({ slotIds: [shelf.slot('B4')] });
    const last = (await stays(lot.id))[1];
    const at = `/placements/${last?.id}/correction`;
    expect((await hand.get(`/stock/${lot.code}`)).body).toContain(`href="${at}"`);
    const form = await hand.get(at);
    expect(form.body).toContain('B3 <span class="tile-small">as entered');
    expect(form.body).not.toContain('>B4<');
    const taken = await hand.post(at, { slot: shelf.slot('B4'), at: '2026-11-12T09:00' });
    expect(taken.status).toBe(409);
    expect(taken.body).toContain(`B4 was taken by ${other.code} in that time`);
    const early = await hand.post(at, { slot: shelf.slot('B5'), at: '2026-10-01T09:00' });
    expect(early.status).toBe(422);
    expect((await hand.post(at, { slot: shelf.slot('B5'), at: '2026-11-12T09:00' })).status).toBe(303);
    const after = await stays(lot.id);
    expect(after.map(({ fromAt, toAt }) => [day(fromAt), day(toAt)])).toEqual([
      ['2026-11-01T09:00', '2026-11-12T09:00'],
      ['2026-11-12T09:00', null],
    ]);
    expect(after[1]?.slots.map(({ slotId }) => slotId)).toEqual([shelf.slot('B5')]);
    expect(await said(lot.id, 'placement.corrected')).toMatchObject({
      before: { place: 'Rack S2, B3' },
      after: { place: 'Rack S2, B5' },
    });
  });

  test('a placement that never was is taken back with its reason, and the lot stood where it stood before', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A5')] });
    await moved(lot.id, 'B7', '2026-11-15T09:00:00Z');
    const wrong = (await stays(lot.id))[1];
    const without = await hand.post(`/placements/${wrong?.id}/removal`, { reason: '' });
    expect(without.status).toBe(422);
    expect(
      (await hand.post(`/placements/${wrong?.id}/removal`, { reason: 'another lot was meant' })).status,
    ).toBe(303);
    const [only, ...more] = await stays(lot.id);
    expect([day(only?.fromAt), only?.toAt, more.length]).toEqual(['2026-11-01T09:00', null, 0]);
    expect(await said(lot.id, 'placement.taken_back')).toMatchObject({ reason: 'another lot was meant' });
    await moved(lot.id, 'B7', '2026-11-16T09:00:00Z');
    const next = await shelf.lot({
      arrivedAt: new Date('2026-11-17T09:00:00Z'),
      slotIds: [shelf.slot('A5')],
    });
    const second = (await stays(lot.id))[1];
    const kept = await hand.post(`/placements/${second?.id}/removal`, { reason: 'wrong again' });
    expect(kept.status).toBe(409);
    expect(kept.body).toContain(next.code);
  });

  test('where a tag tells it, a correction wants its reason', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A12')] });
    const issued = await manager.post('/tags', { lot: lot.code, pieces: '1', reason: 'Sale' });
    expect(issued.status, issued.body).toBe(303);
    const [place] = await stays(lot.id);
    const at = `/placements/${place?.id}/correction`;
    const form = { slot: shelf.slot('A12'), at: '2026-11-05T09:00' };
    expect((await hand.get(at)).body).toContain('1 tag of it says what was entered before');
    expect((await hand.post(at, form)).status).toBe(422);
    expect((await hand.post(at, { ...form, reason: 'came in the evening' })).status).toBe(303);
    const received = { at: '2026-10-30T09:00' };
    expect((await hand.post(`/lots/${lot.id}/received`, received)).status).toBe(422);
    expect((await hand.post(`/lots/${lot.id}/received`, { ...received, reason: 'typed wrong' })).status).toBe(
      303,
    );
  });

  test('who did it is corrected by a manager; the journal keeps who entered it, and it can be undone', async () => {
    const lot = await shelf.lot();
    await hand.post(`/lots/${lot.id}/conditions`, { state: 'well', note: '' });
    const note = await bench.service.db.condition.findFirstOrThrow({ where: { lotId: lot.id } });
    const at = `/persons/condition/${note.id}`;
    expect((await hand.get(at)).status).toBe(403);
    expect((await manager.get(`/conditions/${note.id}/voiding`)).body).toContain(`href="${at}"`);
    expect((await manager.get(at)).body).toContain('by Odo Brandt');
    const done = await manager.post(at, { personId: manager.id, reason: 'Odo was still signed in' });
    expect(done.status, done.body).toBe(303);
    expect((await bench.service.db.condition.findFirstOrThrow({ where: { id: note.id } })).accountId).toBe(
      manager.id,
    );
    expect(await said(lot.id, 'record.person_corrected')).toMatchObject({
      before: { by: 'Odo Brandt' },
      after: { by: 'Ines Varga' },
    });
    const undo = /action="(\/undo\/[^"]+)"/.exec((await manager.get(`/stock/${lot.code}`)).body)?.[1] ?? '';
    await manager.post(undo, {});
    expect((await bench.service.db.condition.findFirstOrThrow({ where: { id: note.id } })).accountId).toBe(
      hand.id,
    );
  });
});
