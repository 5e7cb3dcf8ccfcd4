import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { holdPieces, letGo, sellSingle } from '../../src/stock/orders/single.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

let bench: Bench;
let shelf: Shelf;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

const hold = (lotId: string, pieces: number, buyer = 'Ana Reis') =>
  bench.change((work) => holdPieces(work, { lotId, pieces, buyer, until: '2026-12-01', note: '' }));
const sell = (lotId: string, pieces: number, holdId: string | null = null) =>
  bench.change((work) =>
    sellSingle(work, 'Europe/Lisbon', {
      ...{ lotId, pieces, buyer: '', at: benchNow, note: '', tagId: null, holdId },
    }),
  );

describe('pieces held for a buyer', () => {
  test('are not held or sold again', async () => {
    const lot = await shelf.lot({ pieces: 5 });
    await hold(lot.id, 3);
    await expect(hold(lot.id, 3, 'Rui Sousa')).rejects.toThrow(
      'Only 2 pieces are free: 3 of 5 are held already.',
    );
    await expect(sell(lot.id, 3)).rejects.toThrow('3 pieces are held for other buyers: enter at most 2');
    expect(await sell(lot.id, 2)).toMatchObject({ pieces: 3 });
  });

  test('go to their buyer, once', async () => {
    const lot = await shelf.lot({ pieces: 5 });
    const { id } = await hold(lot.id, 3);
    expect(await sell(lot.id, 3, id)).toMatchObject({ pieces: 2 });
    await expect(sell(lot.id, 2, id)).rejects.toThrow('already released or sold');
  });

  test('are free again once they are released', async () => {
    const lot = await shelf.lot({ pieces: 2 });
    const { id } = await hold(lot.id, 2);
    await bench.change((work) => letGo(work, id, 'changed their mind'));
    expect(await sell(lot.id, 2)).toMatchObject({ pieces: 0 });
    await expect(bench.change((work) => letGo(work, id, ''))).rejects.toThrow('already released');
  });

  test('never exceed the count, also by writes straight to the database', async () => {
    const lot = await shelf.lot({ pieces: 2 });
    const write = bench.service.pool.query(
      `INSERT INTO hold (id, lot_id, pieces, buyer, until) VALUES (gen_random_uuid(), $1, 3, 'x', '2026-12-01')`,
      [lot.id],
    );
    await expect(write).rejects.toThrow('hold_within_lot');
  });

  test('cannot be held by two people at once', async () => {
    const lot = await shelf.lot({ pieces: 4 });
    const both = await Promise.allSettled([hold(lot.id, 3), hold(lot.id, 3)]);
    expect(both.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected']);
  });
});

describe('the form of a sale', () => {
  const saleForm = async (code: string, query = '') => (await hand.get(`/stock/${code}/sale${query}`)).body;

  test('takes the only hold, with its pieces and its buyer', async () => {
    const lot = await shelf.lot({ pieces: 5 });
    const { id } = await hold(lot.id, 3);
    const body = await saleForm(lot.code);
    expect(body).toMatch(new RegExp(`name="hold" value="${id}" checked`));
    expect(body).toMatch(/name="pieces"[^>]*value="3"/);
    expect(body).toMatch(/name="buyer"[^>]*value="Ana Reis"/);
  });

  test('takes none of several until one is chosen', async () => {
    const lot = await shelf.lot({ pieces: 5 });
    await hold(lot.id, 3);
    const { id } = await hold(lot.id, 2, 'Rui Sousa');
    expect(await saleForm(lot.code)).toMatch(/name="hold" value="" checked/);
    const body = await saleForm(lot.code, `?hold=${id}`);
    expect(body).toMatch(/name="pieces"[^>]*value="2"/);
    expect(body).toMatch(/name="buyer"[^>]*value="Rui Sousa"/);
  });
});

describe('a sale', () => {
  test('out of a hold is to the buyer of that hold where nobody says another', async () => {
    const lot = await shelf.lot({ pieces: 2 });
    const { id } = await hold(lot.id, 2);
    await sell(lot.id, 2, id);
    const sale = await bench.service.db.sale.findFirstOrThrow({ where: { lotId: lot.id } });
    expect(sale.buyer).toBe('Ana Reis');
  });

  test('is a line of the ledger with its buyer beside it, and the lot leaves its slots with its last piece', async () => {
    const lot = await shelf.lot({ pieces: 2 });
    const answer = await hand.post(`/lots/${lot.id}/sales`, {
      pieces: 2,
      buyer: 'Ana Reis, Porto',
      hold: '',
      note: '',
      at: '',
    });
    expect(answer.status, answer.body).toBe(303);
    const sale = await bench.service.db.sale.findFirstOrThrow({
      where: { lotId: lot.id },
      include: { ledger: true },
    });
    expect(sale).toMatchObject({
      buyer: 'Ana Reis, Porto',
      pieces: 2,
      ledger: { change: -2, reason: 'sold' },
    });
    const { rows } = await bench.service.pool.query('SELECT 1 FROM lot_place WHERE lot_id = $1', [lot.id]);
    expect(rows).toEqual([]);
  });

  test('of a lot of which some were lost since they were held says what is left', async () => {
    const lot = await shelf.lot({ pieces: 3 });
    await hold(lot.id, 3);
    await bench.change((work) =>
      countLot(work, { lotId: lot.id, reason: 'lost', pieces: 2, at: benchNow, note: '' }),
    );
    const page = await hand.get(`/stock/${lot.code}/sale`);
    expect(page.body).toContain('All pieces are held for buyers.');
    expect(page.body).toContain('3 pieces for Ana Reis until 1 Dec 2026');
  });
});

test('the list says what is ready and, of the rest, why not', async () => {
  const lot = await shelf.lot({ pieces: 3 });
  const list = await hand.get('/stock/ready?part=not');
  expect(list.status).toBe(200);
  const row = list.body.slice(list.body.indexOf(lot.code));
  expect(row).toContain('Nobody has noted how it looks.');
  expect((await hand.get('/stock/ready')).status).toBe(200);
});

describe('a change of a count that was entered by mistake', () => {
  const today = new Date(benchNow.getTime() - 3_600_000);
  const lineOf = (lotId: string, reason: 'lost' | 'sold' | 'received') =>
    bench.service.db.ledgerEntry.findFirstOrThrow({ where: { lotId, reason }, orderBy: { id: 'desc' } });
  const takeBack = async (lotId: string, reason: 'lost' | 'sold' | 'received') =>
    hand.post(`/counts/${(await lineOf(lotId, reason)).id}/voiding`, { reason: 'another lot' });

  test('comes back on the count, to its slot, out of the losses, and stays in view', async () => {
    const lot = await shelf.lot({ pieces: 4, slotIds: [shelf.slot('A1')] });
    const count = (pieces: number) => ({
      lotId: lot.id,
      reason: 'lost' as const,
      pieces,
      at: today,
      note: '',
    });
    await bench.change((work) => countLot(work, count(4)));
    expect((await hand.get(`/stock/${lot.code}`)).body).toContain('4 pieces lost; none left');
    expect((await hand.get('/stock/losses')).body).toContain(lot.code);
    const { id } = await lineOf(lot.id, 'lost');
    expect((await hand.get(`/stock/${lot.code}`)).body).toContain(`/counts/${id}/voiding`);
    expect((await hand.get(`/counts/${id}/voiding`)).body).toContain('Lost, −4 pieces');
    expect((await hand.post(`/counts/${id}/voiding`, { reason: '' })).status).toBe(422);
    expect((await takeBack(lot.id, 'lost')).status).toBe(303);
    const { body } = await hand.get(`/stock/${lot.code}`);
    expect(body).toContain('4 pieces');
    expect(body).toContain('A1');
    expect(body).toContain('another lot');
    expect((await hand.get('/stock/losses')).body).not.toContain(lot.code);
    expect((await hand.get('/export/losses.csv')).body).not.toContain(lot.code);
    expect((await hand.get('/export/counts.csv')).body).toContain('another lot');
    expect((await takeBack(lot.id, 'lost')).body).toContain('taken back already');
  });

  test('that a look entered comes back with the look', async () => {
    const lot = await shelf.lot({ pieces: 3 });
    const look = await hand.post(`/lots/${lot.id}/conditions`, { state: 'lost', lostPieces: '2' });
    expect(look.status, look.body).toBe(303);
    const { id } = await bench.service.db.condition.findFirstOrThrow({ where: { lotId: lot.id } });
    expect((await hand.get(`/conditions/${id}/voiding`)).body).toContain('come back on the count');
    await hand.post(`/conditions/${id}/voiding`, { reason: 'another lot' });
    expect((await bench.service.db.lot.findUniqueOrThrow({ where: { id: lot.id } })).pieces).toBe(3);
  });

  test('is not taken back where later pieces rest on it, or it is part of a sale', async () => {
    const lot = await shelf.lot({ pieces: 3 });
    await sell(lot.id, 2);
    const sold = await takeBack(lot.id, 'sold');
    expect(sold.status).toBe(409);
    expect(sold.body).toMatch(/It belongs to order \d+\. Take the order back to “Packed”/);
    const came = await takeBack(lot.id, 'received');
    expect(came.status).toBe(409);
    expect(came.body).toContain('below zero');
  });

  test('that is how the lot came leaves it without pieces and without a slot', async () => {
    const lot = await shelf.lot({ pieces: 3, slotIds: [shelf.slot('A2')] });
    expect((await takeBack(lot.id, 'received')).status).toBe(303);
    expect(
      await bench.service.db.placementSlot.count({ where: { placement: { lotId: lot.id }, toAt: null } }),
    ).toBe(0);
  });
});
