import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeDigest } from '../../src/digest/digests.ts';
import { countState, type TakenCount } from '../../src/stock/stocktakes/counts.rules.ts';
import { type CountedLot, driftBy } from '../../src/stock/stocktakes/drift.rules.ts';
import { countedLots } from '../../src/stock/stocktakes/drift.ts';
import { stocktakeNews } from '../../src/stock/stocktakes/due.ts';
import { voidCounts } from '../../src/stock/stocktakes/stocktakes.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

const one = { twoPeople: false, settled: false };
const two = { twoPeople: true, settled: false };
const taken = (pieces: number, expected: number, by = 'nela'): TakenCount => ({
  ...{ pieces, expected, byId: by, by, at: new Date(0) },
});

describe('the count of a lot on a rack', () => {
  test('is right or differs by one count, where it differs by little', () => {
    expect(countState([], one)).toEqual({ state: 'open' });
    expect(countState([taken(12, 12)], one)).toEqual({ state: 'right', difference: 0 });
    expect(countState([taken(10, 12)], one)).toEqual({ state: 'differs', difference: -2 });
    expect(countState([taken(97, 100)], one)).toEqual({ state: 'differs', difference: -3 });
  });

  test('is counted again where it differs by much, until two counts say the same of the records of their time', () => {
    expect(countState([taken(8, 12)], one)).toEqual({ state: 'again', why: 'much', difference: -4 });
    expect(countState([taken(8, 12), taken(7, 12)], one)).toMatchObject({ state: 'again', why: 'disagree' });
    // One was sold in between: 7 of 11 is the same difference as 8 of 12.
    expect(countState([taken(8, 12), taken(7, 11)], one)).toEqual({ state: 'differs', difference: -4 });
    expect(countState([taken(8, 12), taken(12, 12)], one)).toEqual({ state: 'right', difference: 0 });
  });

  test('of two people is settled by two of them alone', () => {
    expect(countState([taken(12, 12)], two)).toMatchObject({ state: 'again', why: 'second' });
    expect(countState([taken(12, 12), taken(12, 12)], two)).toMatchObject({ state: 'again', why: 'second' });
    expect(countState([taken(12, 12), taken(11, 12, 'tom')], two)).toMatchObject({
      state: 'again',
      why: 'disagree',
    });
    expect(countState([taken(11, 12), taken(11, 12, 'tom')], two)).toEqual({
      state: 'differs',
      difference: -1,
    });
  });
});

describe('the drift of the records', () => {
  const lot = (rack: string, pieces: number, expected: number): CountedLot => ({
    ...{ stocktakeId: 's', closedAt: new Date(0), rack, kind: 'k', pieces, expected },
  });

  test('has its count of lots, and a share with its exact interval from ten lots on', () => {
    const lots = [...Array.from({ length: 9 }, () => lot('A', 5, 5)), lot('A', 3, 5), lot('B', 6, 5)];
    const [a, b] = driftBy(lots, ({ rack }) => rack);
    expect(a).toMatchObject({ name: 'A', lots: 10, right: 9, recorded: 50, net: -2 });
    // 9 of 10: 55.50 to 99.75 %, Clopper and Pearson 1934 (scipy 1.17.1 binomtest(9, 10).proportion_ci()).
    expect(a?.interval?.low).toBeCloseTo(0.555, 3);
    expect(a?.interval?.high).toBeCloseTo(0.9975, 4);
    expect(b).toMatchObject({ lots: 1, interval: null, net: 1 });
  });
});

describe('a stocktake', () => {
  let bench: Bench;
  let hall: Hall;
  let manager: Visitor;
  let hand: Visitor;
  let other: Visitor;
  let id: string;
  const path = () => `/stock/stocktakes/${id}`;
  const page = async () => (await hand.get(path())).body;
  const json = async () =>
    (await hand.get(`/api/stocktakes/${id}`)).json() as {
      racks: {
        id: string;
        lots: {
          lineId: string;
          lotId: string | null;
          name: string;
          state: string;
          said: string;
          reason: string | null;
        }[];
      }[];
    };
  const lineOf = async (rackId: string, lotId: string | null) =>
    (await json()).racks.find((rack) => rack.id === rackId)?.lots.find((lot) => lot.lotId === lotId);
  const pieces = async (lotId: string) =>
    (await bench.service.db.lot.findUniqueOrThrow({ where: { id: lotId } })).pieces;
  const minute = (m: number) => bench.at(`2026-11-24T09:${String(m).padStart(2, '0')}:00Z`);
  const count = (rackId: string, fields: Record<string, string>, by = hand) =>
    by.post(`${path()}/racks/${rackId}`, fields);
  const settle = (lineId: string, fields: Record<string, string>, by = hand) =>
    by.post(`/stock/stocktakes/lines/${lineId}`, fields);

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hall = await makeHall(bench);
    manager = await bench.as('manager', 'Ines Varga');
    hand = await bench.as('hand', 'Nela Brandt');
    other = await bench.as('hand', 'Tomé Arrais');
  });
  afterAll(() => bench.close());

  test('is begun by a manager, one at a time, over all racks with lots in the order of the farm', async () => {
    minute(0);
    const asked = { name: 'November', hidden: 'yes' };
    expect((await hand.post('/stock/stocktakes', asked)).status).toBe(403);
    const begun = await manager.post('/stock/stocktakes', asked);
    expect(begun.status, begun.body).toBe(303);
    id = (await bench.service.db.stocktake.findFirstOrThrow()).id;
    const again = await manager.post('/stock/stocktakes', { name: 'December' });
    expect(again.body).toContain('Close it first: one stocktake at a time.');
    const shown = await page();
    expect(shown.indexOf('Window rack')).toBeLessThan(shown.indexOf('Wall rack'));
    expect(shown).not.toContain('Bare rack');
    const site = await bench.service.db.site.findFirstOrThrow({ where: { id: hall.siteId } });
    expect(await stocktakeNews(bench.service.pool, site, new Date(benchNow))).toEqual({
      text: 'Stocktake “November”: 3 of 3 lots to count',
      href: path(),
    });
    const digest = await makeDigest(bench.service, hall.siteId, bench.service.now());
    expect(digest.content.work.map(({ what }) => what)).toContain(
      'Stocktake “November”: 3 of 3 lots to count',
    );
    expect((await hand.get('/')).body).toContain('3 of 3 lots to count');
  });

  test('hides what the records say until a lot is counted, on the page and in the list', async () => {
    const form = (await hand.get(`${path()}/racks/${hall.window}`)).body;

    expect(form).toContain(`name="n_${hall.lots.A1.id}"`);
    expect(form).not.toMatch(/recorded/);
    expect(JSON.stringify(await json())).not.toMatch(/recorded|expected/);
  });

  test('refuses what is no count at its field, and keeps what was typed', async () => {
    const refused = await count(hall.window, {
      [`n_${hall.lots.A1.id}`]: '4.5',
      [`n_${hall.lots.A2.id}`]: '1',
    });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Enter a whole number of pieces.');
    expect(refused.body).toContain('value="4.5"');
    expect((await count(hall.window, {})).body).toContain('Enter at least one number.');
    expect((await count(hall.window, { found_1: 'Green', foundPieces_1: '' })).body).toContain(
      'Enter how many pieces you found.',
    );
    expect(await bench.service.db.stocktakeCount.count()).toBe(0);
  });

  test('says what differs by little, and asks for a second count of what differs by much', async () => {
    minute(5);
    const { A1, A2, B1 } = hall.lots;
    expect((await count(hall.window, { [`n_${A1.id}`]: '4', [`n_${A2.id}`]: '1' })).status).toBe(303);
    expect(await lineOf(hall.window, A1.id)).toMatchObject({
      state: 'differs',
      said: '4 counted, 5 recorded',
    });
    expect(await lineOf(hall.window, A2.id)).toMatchObject({ state: 'right' });
    await count(hall.wall, { [`n_${B1.id}`]: '1' });
    const line = await lineOf(hall.wall, B1.id);
    expect(line).toMatchObject({ state: 'again', said: '1 counted; differs by much: count it again' });
    const early = await settle(line?.lineId ?? '', { as: 'miscounted', difference: '-4' });
    expect(early.body).toContain('Count it again first');
    minute(6);
    await count(hall.wall, { [`n_${B1.id}`]: '1' }, other);
    expect(await lineOf(hall.wall, B1.id)).toMatchObject({ state: 'differs', said: '1 counted, 5 recorded' });
  });

  test('settles a difference by one tap as a loss with its cause, and takes it back as it was', async () => {
    minute(10);
    const { A1 } = hall.lots;
    const line = await lineOf(hall.window, A1.id);
    const shown = await page();
    expect(shown).toContain('Missing');
    const said = { as: 'lost', cause: 'astray', difference: '-1' };
    expect((await settle(line?.lineId ?? '', { ...said, difference: '-2' })).body).toContain(
      'changed meanwhile',
    );
    expect((await settle(line?.lineId ?? '', said)).status).toBe(303);
    expect(await pieces(A1.id)).toBe(4);
    const entry = await bench.service.db.ledgerEntry.findFirstOrThrow({
      where: { lotId: A1.id, reason: 'lost' },
    });
    expect(entry).toMatchObject({ cause: 'astray', change: -1, at: new Date('2026-11-24T09:05:00Z') });
    expect((await hand.get('/stock/losses')).body).toContain(A1.code);
    expect(await lineOf(hall.window, A1.id)).toMatchObject({ state: 'settled', reason: 'lost' });
    const back = await hand.post(`/stock/stocktakes/lines/${line?.lineId}/take-back`, {});
    expect(back.status, back.body).toBe(303);
    expect(await pieces(A1.id)).toBe(5);
    expect(await lineOf(hall.window, A1.id)).toMatchObject({
      state: 'differs',
      said: '4 counted, 5 recorded',
    });
    expect((await hand.get('/stock/losses')).body).not.toContain(A1.code);
    expect((await settle(line?.lineId ?? '', { as: 'miscounted', difference: '-1' })).status).toBe(303);
    expect(await pieces(A1.id)).toBe(4);
    const subjects = await bench.service.db.journalLine.findMany({
      where: { subjectId: id },
      orderBy: { at: 'asc' },
    });
    expect(subjects.map(({ kind }) => kind)).toEqual([
      ...['stocktake.begun', 'stocktake.counted', 'stocktake.counted', 'stocktake.counted'],
      ...['stocktake.settled', 'stocktake.unsettled', 'stocktake.settled'],
    ]);
  });

  test('keeps what was settled when the lot is counted again as the records say since, and opens it when it is not', async () => {
    const { A1 } = hall.lots;
    const again = (n: string) => count(hall.window, { [`n_${A1.id}`]: n });
    minute(11);
    await again('4');
    expect(await lineOf(hall.window, A1.id)).toMatchObject({
      state: 'settled',
      said: '4 counted, as recorded since it was settled: miscounted before',
    });
    await again('3');
    expect(await lineOf(hall.window, A1.id)).toMatchObject({
      state: 'differs',
      said: '3 counted, 4 recorded',
    });
    const counts = () => bench.service.db.stocktakeCount.findMany({ orderBy: { id: 'desc' } });
    const [third] = await counts();
    await bench.change((work) => voidCounts(work, [third?.id ?? '']));
    expect(await lineOf(hall.window, A1.id)).toMatchObject({ state: 'settled', reason: 'miscounted' });
    expect(await pieces(A1.id)).toBe(4);
    // Taken back while a later count stands: that one has it then, and its own taking back settles the line.
    await again('3');
    await again('5');
    const [fifth, fourth] = await counts();
    await bench.change((work) => voidCounts(work, [fourth?.id ?? '']));
    expect(await lineOf(hall.window, A1.id)).toMatchObject({ state: 'differs' });
    await bench.change((work) => voidCounts(work, [fifth?.id ?? '']));
    expect(await lineOf(hall.window, A1.id)).toMatchObject({ state: 'settled', reason: 'miscounted' });
  });

  test('settles pieces sold without an entry as an order that is gone', async () => {
    minute(12);
    const { B1 } = hall.lots;
    const slots = await bench.service.db.slot.findMany({
      where: { rackId: hall.wall, row: 2, column: { in: [1, 3] } },
      orderBy: { column: 'asc' },
    });
    const slot = slots.map((one) => one.id);
    expect((await hand.post(`/lots/${B1.id}/placements`, { slot, at: '2026-11-24T09:07' })).status).toBe(303);
    const line = await lineOf(hall.wall, B1.id);
    const sold = await settle(line?.lineId ?? '', {
      as: 'sold',
      buyer: 'Shop on the quay',
      difference: '-4',
    });
    expect(sold.status, sold.body).toBe(303);
    expect(await pieces(B1.id)).toBe(1);
    const order = await bench.service.db.salesOrder.findFirstOrThrow({ include: { lines: true } });
    expect(order).toMatchObject({ buyer: 'Shop on the quay', stage: 'gone', lines: [{ pieces: 4 }] });
    const back = await hand.post(`/stock/stocktakes/lines/${line?.lineId}/take-back`, {});
    expect(back.body).toContain('Take the sale back on its order');
    // One piece is left on two slots: the page asks which is empty.
    expect(await page()).toMatch(/Which slots are empty now\?[\s\S]*B3 is empty/);
    const said = await hand.post('/stock/slots', { lot: B1.id, empty: slot.slice(1), back: path() });
    expect(said.location).toBe(path());
    expect(await page()).not.toContain('Which slots are empty now?');
  });

  test('settles a lot found on another rack by moving it there, or by splitting off what stands there', async () => {
    const { A2, A1 } = hall.lots;
    minute(15);
    await count(hall.window, { [`n_${A2.id}`]: '0' });
    await count(hall.wall, {
      found_1: A2.code,
      foundPieces_1: '1',
      found_2: A1.code,
      foundPieces_2: '2',
      found_3: 'Blue tips',
      foundPieces_3: '3',
    });
    const shown = await page();
    expect(shown).toContain('on Window rack by the records');
    const moved = await lineOf(hall.wall, A2.id);
    const tap = /name="slot" value="([^"]+)"/.exec(shown)?.[1] ?? '';
    expect(shown).toContain('Moved here, to A1');
    const done = await settle(moved?.lineId ?? '', { as: 'moved', slot: tap, difference: '1' });
    expect(done.status, done.body).toBe(303);
    expect(await lineOf(hall.wall, A2.id)).toMatchObject({ state: 'right' });
    expect(await lineOf(hall.window, A2.id)).toMatchObject({ state: 'settled', reason: 'moved' });
    expect(await pieces(A2.id)).toBe(1);
    const part = await lineOf(hall.wall, A1.id);
    const free = await bench.service.db.slot.findFirstOrThrow({
      where: { rackId: hall.wall, row: 2, column: 1 },
    });
    const taken = await bench.service.db.placementSlot.findFirst({ where: { slotId: free.id, toAt: null } });
    const slot =
      taken === null
        ? free
        : await bench.service.db.slot.findFirstOrThrow({ where: { rackId: hall.wall, row: 2, column: 2 } });
    const split = await settle(part?.lineId ?? '', { as: 'split', slot: slot.id, difference: '2' });
    expect(split.status, split.body).toBe(303);
    expect(await pieces(A1.id)).toBe(2);
  });

  test('keeps what nobody knows as found, until somebody says which lot it is or notes it', async () => {
    const found = (await json()).racks.flatMap(({ lots }) => lots).find(({ lotId }) => lotId === null);
    expect(found).toMatchObject({ name: '“Blue tips”', state: 'differs' });
    const wrong = await hand.post(`/stock/stocktakes/lines/${found?.lineId}/name`, { code: 'nothing' });
    expect(wrong.body).toContain('No lot here has this code.');
    const lost = await settle(found?.lineId ?? '', { as: 'lost', difference: '3' });
    expect(lost.body).toContain('That cannot be what this difference was.');
    expect((await settle(found?.lineId ?? '', { as: 'noted', difference: '3' })).status).toBe(303);
  });

  test('is counted on a round as well: the entry counts once, is taken back, and says why it is refused', async () => {
    minute(20);
    const roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
    const { A1 } = hall.lots;
    const address = `/rounds/${roundId}/racks/${hall.window}/count`;
    const asked = `/api/rounds/${roundId}?draw=${address}&draw=/rounds/${roundId}`;
    const tablet = (await hand.get(asked)).json() as { pages: Record<string, { html: string }> };
    expect(tablet.pages[address]?.html).toContain(`name="n_${A1.id}"`);
    expect(tablet.pages[`/rounds/${roundId}`]?.html).toContain('Stocktake: November');
    const base = { at: '2026-11-24T09:19:00Z', stocktakeId: id, rackId: hall.window, label: 'Window rack' };
    const entry = { ...base, id: crypto.randomUUID(), kind: 'shelf_count', [`n_${A1.id}`]: '2' };
    const send = (list: object[]) => hand.send(`/api/rounds/${roundId}/entries`, list);
    const outcome = async (list: object[]) =>
      ((await send(list)).json() as { entries: { outcome: string; why?: string }[] }).entries[0];
    expect(await outcome([entry])).toMatchObject({ outcome: 'taken' });
    expect(await outcome([entry])).toMatchObject({ outcome: 'there' });
    expect(await lineOf(hall.window, A1.id)).toMatchObject({
      state: 'settled',
      said: '2 counted, as recorded since it was settled: miscounted before',
    });
    const back = { at: base.at, id: crypto.randomUUID(), kind: 'take_back', entryId: entry.id };
    expect(await outcome([back])).toMatchObject({ outcome: 'taken' });
    expect(await lineOf(hall.window, A1.id)).toMatchObject({
      said: '4 counted, as recorded since it was settled: miscounted before',
    });
    const odd = { ...entry, id: crypto.randomUUID(), [`n_${A1.id}`]: 'two' };
    expect(await outcome([odd])).toMatchObject({
      outcome: 'refused',
      why: 'Enter a whole number of pieces.',
    });
    expect((await hand.get(`/rounds/${roundId}/end`)).body).toContain(`${address}?mends`);
    const plain = await hand.post(`/rounds/${roundId}/entries`, {
      ...{ id: crypto.randomUUID(), kind: 'shelf_count', stocktakeId: id, rackId: hall.window },
      [`n_${A1.id}`]: '2',
    });
    expect(plain.status, plain.body).toBe(303);
    expect(await lineOf(hall.window, A1.id)).toMatchObject({ state: 'settled' });
  });

  test('is closed by a manager with what was not counted, and then stays as it is', async () => {
    minute(30);
    const added = await bench.change(async (work) => {
      const { addLot } = await import('../../src/stock/lots/lots.ts');
      const kind = await work.tx.kind.findUniqueOrThrow({ where: { code: 'goniastrea-retiformis' } });
      const slot = await work.tx.slot.findFirstOrThrow({ where: { rackId: hall.window, row: 1, column: 3 } });
      return addLot(work, {
        ...{
          siteId: hall.siteId,
          kindId: kind.id,
          pieces: 3,
          arrivedAt: bench.service.now(),
          origin: '',
          permit: '',
        },
        ...{ sizeMm: null, isMother: false, note: '', identification: null, slotIds: [slot.id] },
      });
    });
    expect((await hand.post(`${path()}/close`, {})).status).toBe(403);
    const closed = await manager.post(`${path()}/close`, { note: 'Before the sale' });
    expect(closed.status, closed.body).toBe(303);
    const shown = await page();
    expect(shown).toContain('Not counted');
    expect(shown).toContain(added.code);
    const late = await count(hall.wall, { [`n_${hall.lots.B1.id}`]: '1' });
    expect(late.location).toBe(path());
    expect(await page()).toContain('“November” is closed');
    await expect(bench.service.pool.query('UPDATE stocktake_count SET pieces = 9')).rejects.toThrow(
      'a closed stocktake stays as it is',
    );
    const csv = (await hand.get('/export/stocktakes.csv')).body;
    expect(csv).toContain('Blue tips');
    expect(csv).toContain(added.code);
    expect((await hand.get('/stock/stocktakes/drift')).body).toContain('too few to say');
    // The piece that was missing stays a drift of the records, though the lot was counted again as they say since.
    const drifted = await countedLots(bench.service.pool, hall.siteId, new Date('2026-11-25T12:00:00Z'));
    const ofWindow = driftBy(drifted, ({ rack }) => rack).find(({ name }) => name.includes('Window'));
    expect(ofWindow).toMatchObject({ lots: 2, right: 0, net: -2 });
  });

  test('is due by the routine of the site, as the digest says', async () => {
    await manager.post('/stock/stocktakes/routine', { everyDays: '30' });
    const site = await bench.service.db.site.findFirstOrThrow({ where: { id: hall.siteId } });
    const news = (day: string) => stocktakeNews(bench.service.pool, site, new Date(`${day}T12:00:00Z`));
    expect(await news('2026-12-23')).toBeNull();
    expect(await news('2026-12-24')).toMatchObject({ text: 'A stocktake is due today' });
    expect(await news('2026-12-27')).toMatchObject({ text: 'A stocktake is 3 days overdue' });
    await manager.post('/stock/stocktakes/routine', { everyDays: '' });
    expect(await news('2026-12-27')).toBeNull();
  });
});
