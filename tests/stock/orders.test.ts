import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { endHolds } from '../../src/stock/orders/hold-ends.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { drawPdf } from '../support/pdf.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

let bench: Bench;
let shelf: Shelf;
let hand: Visitor;
let manager: Visitor;
let reader: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  await bench.service.db.site.update({ where: { id: shelf.siteId }, data: { currency: 'EUR' } });
  [hand, manager, reader] = [await bench.as('hand'), await bench.as('manager'), await bench.as('reader')];
});
afterAll(() => bench.close());

const grey = { create: { width: 60, height: 40, channels: 3 as const, background: '#888' } };

interface Lot {
  id: string;
  code: string;
}

const priced = async (pieces: number, priceMinor: number | null = 1250): Promise<Lot> => {
  const lot = await shelf.lot({ pieces });
  await bench.service.db.lot.update({ where: { id: lot.id }, data: { priceMinor } });
  return lot;
};

const asked = (lots: readonly Lot[]) => lots.map(({ code }) => code).join('.');

/** Takes an order by the form, one piece of each lot unless told otherwise. */
async function order(lots: readonly Lot[], more: Record<string, unknown> = {}, who = hand) {
  const pieces = Object.fromEntries(lots.map(({ code }) => [`pieces_${code}`, 1]));
  const form = {
    buyer: 'Reef Room',
    until: '2026-12-01',
    do: 'hold',
    ticked: asked(lots),
    ...pieces,
    ...more,
  };
  return who.post('/stock/orders', form);
}

async function taken(lots: readonly Lot[], more: Record<string, unknown> = {}, who = hand) {
  const answer = await order(lots, more, who);
  expect(answer.status, answer.body).toBe(303);
  return answer.location ?? '';
}

/** What a PDF says, as a reader of PDF finds it. */
const pdfText = async (file: Buffer) => (await drawPdf(file, 20)).flatMap(({ texts }) => texts).join(' ');

const idIn = (path: string) => path.split('/').at(-1) ?? '';
const stateOf = (path: string) =>
  bench.service.db.salesOrder.findUniqueOrThrow({
    where: { id: idIn(path) },
    include: { lines: { orderBy: { position: 'asc' } }, stages: { orderBy: { at: 'asc' } } },
  });
const heldOf = async ({ id }: Lot) =>
  (await bench.service.db.hold.aggregate({ where: { lotId: id, releasedAt: null }, _sum: { pieces: true } }))
    ._sum.pieces ?? 0;
const lotOf = ({ id }: Lot) => bench.service.db.lot.findUniqueOrThrow({ where: { id } });

async function stage(path: string, to: string, more: Record<string, unknown> = {}, who = hand) {
  const { version } = await stateOf(path);
  return who.post(`${path}/stage`, { to, version, ...more });
}

const carried = {
  ...{ way: 'box', wall: 'foam', lengthMm: 40, widthMm: 30, bags: 4, litresABag: 2, method: 'submerged' },
  ...{ pack: 'none', carrier: 'North van', hours: 12, claimHours: 12 },
  ...{ startDegC: 25, coldestDegC: 24.5, warmestDegC: 26 },
};

async function pack(path: string, box: Record<string, unknown> = carried, packed?: string[]) {
  const { version, lines } = await stateOf(path);
  expect((await hand.get(`${path}/packing`)).status).toBe(200);
  return hand.post(`${path}/packing`, { version, packed: packed ?? lines.map(({ id }) => id), ...box });
}

describe('an order', () => {
  test('holds pieces of several lots for its buyer, with the price of each, and shows on the lot and the lists', async () => {
    const lots = [await priced(4), await priced(2, null)];
    const page = await hand.get(`/stock/orders/new?ticked=${asked(lots)}`);
    expect(page.body).toContain(`name="pieces_${lots[0]?.code}"`);
    expect(page.body).not.toContain('name="price_');
    const path = await taken(lots, { [`pieces_${lots[0]?.code}`]: 3 });
    expect(await stateOf(path)).toMatchObject({
      ...{ stage: 'held', buyer: 'Reef Room', currency: 'EUR' },
      lines: [
        { pieces: 3, priceMinor: 1250 },
        { pieces: 1, priceMinor: null },
      ],
    });
    const { body } = await reader.get(path);
    expect(body).toContain('EUR 37.50, 1 piece without a price');
    const free = await taken([await priced(1, null)]);
    expect((await reader.get(free)).body).toContain('· 1 piece without a price');
    expect(body).not.toContain('action="/stock/orders');
    expect((await hand.get(`/stock/${lots[0]?.code}`)).body).toMatch(
      /3 pieces<\/b> for <a[^>]*>Reef Room, order \d+/,
    );
    expect((await hand.get('/stock/orders')).body).toContain('4 pieces of 2 lots');
    expect((await hand.get('/stock/ready?part=not')).body).toMatch(/3 held/);
  });

  test('promises no piece twice, whoever asks at the same moment', async () => {
    const [one, other] = [await priced(5), await priced(5)];
    const answers = await Promise.all(
      Array.from({ length: 8 }, (_, i) =>
        order(i % 2 === 0 ? [one, other] : [other, one], { [`pieces_${one.code}`]: 2, buyer: `Buyer ${i}` }),
      ),
    );
    const statuses = answers.map(({ status }) => status).sort();
    expect(statuses).toEqual([303, 303, 409, 409, 409, 409, 409, 409]);
    expect([await heldOf(one), await heldOf(other)]).toEqual([4, 2]);
    const numbers = await bench.service.db.salesOrder.findMany({ where: { siteId: shelf.siteId } });
    expect(new Set(numbers.map(({ number }) => number)).size).toBe(numbers.length);
  });

  test('is defended by the database: promised pieces are neither sold nor split off, but a loss can be said', async () => {
    const lot = await priced(3);
    const path = await taken([lot], { [`pieces_${lot.code}`]: 2 });
    const write = (change: number, reason: string) =>
      bench.service.pool.query(
        `INSERT INTO ledger_entry (id, lot_id, at, change, reason, note) VALUES (gen_random_uuid(), $1, $2, $3, $4::"LedgerReason", '')`,
        [lot.id, benchNow, change, reason],
      );
    await expect(write(-2, 'sold')).rejects.toThrow('promised_pieces_stay');
    await expect(write(-2, 'split')).rejects.toThrow('promised_pieces_stay');
    const counted = await hand.post(`/lots/${lot.id}/ledger`, {
      reason: 'sold',
      pieces: 2,
      at: '',
      note: '',
    });
    expect(counted.status).toBe(422);
    expect(counted.body).toContain('2 pieces are held for other buyers: enter at most 1');
    await bench.change((work) =>
      countLot(work, { lotId: lot.id, reason: 'lost', pieces: 2, at: benchNow, note: '' }),
    );
    expect((await hand.get(path)).body).toContain('2 are promised and 1 are left: some were lost since.');
    expect((await pack(path)).body).toContain('2 are promised and 1 are left');
  });

  test('goes back with a reason, and what it does to the pieces is undone', async () => {
    const lot = await priced(3);
    const path = await taken([lot], { [`pieces_${lot.code}`]: 3 });
    expect((await stage(path, 'asked')).body).toContain('Say why.');
    expect((await stage(path, 'asked', { reason: 'They think about it' })).status).toBe(303);
    expect(await heldOf(lot)).toBe(0);
    await stage(path, 'held');
    expect((await stage(path, 'settled', {}, manager)).body).toContain('in one step');
    expect((await stage(path, 'gone')).status).toBe(303);
    expect((await lotOf(lot)).pieces).toBe(0);
    expect((await stage(path, 'settled')).status).toBe(422);
    expect((await stage(path, 'settled', {}, manager)).status).toBe(303);
    await stage(path, 'gone', { reason: 'The cheque bounced' }, manager);
    expect((await stage(path, 'packed', { reason: 'The van broke down' })).status).toBe(303);
    expect([(await lotOf(lot)).pieces, await heldOf(lot)]).toEqual([3, 3]);
    const sale = await bench.service.db.sale.findFirstOrThrow({ where: { lotId: lot.id } });
    expect(sale.voidReason).toContain('The van broke down');
    await stage(path, 'cancelled', { reason: 'Gave up' });
    expect(await heldOf(lot)).toBe(0);
    const page = await hand.get(path);
    for (const said of ['The van broke down', 'Gave up', 'The hand', 'The manager'])
      expect(page.body).toContain(said);
    await expect(
      bench.service.pool.query(`UPDATE order_stage_change SET reason = 'x' WHERE order_id = $1`, [
        idIn(path),
      ]),
    ).rejects.toThrow('order_stage_kept');
  });

  test('lets its pieces go by itself after the last day, and says so; what is packed stays', async () => {
    const [lot, packed] = [await priced(2), await priced(2)];
    const [path, boxed] = [await taken([lot]), await taken([packed])];
    expect((await pack(boxed)).status).toBe(303);
    await endHolds(bench.service, new Date('2026-12-01T12:00:00Z'));
    expect(await heldOf(lot)).toBe(1);
    await endHolds(bench.service, new Date('2026-12-02T12:00:00Z'));
    expect([await heldOf(lot), await heldOf(packed)]).toEqual([0, 1]);
    const list = (await hand.get('/stock/orders')).body;
    expect(list).toContain('No longer held');
    expect(list).toContain('Its last day, 1 Dec 2026, is over');
    expect((await hand.get(path)).body).toContain('by itself');
  });

  test('takes and loses lots while it is open, is priced by a manager, and is not written over unseen', async () => {
    const [first, second, third] = [await priced(4), await priced(4), await priced(4)];
    const path = await taken([first]);
    const add = await hand.post(`${path}/lines`, { code: second.code, pieces: 2 });
    expect(add.status, add.body).toBe(303);
    await taken([third], { order: idIn(path), buyer: '' });
    expect([await heldOf(second), await heldOf(third)]).toEqual([2, 1]);
    const { lines, version } = await stateOf(path);
    const [line] = lines.filter(({ lotId }) => lotId === third.id);
    await hand.post(`${path}/lines/${line?.id}/removal`, { version });
    expect(await heldOf(third)).toBe(0);
    expect((await hand.get(`${path}/prices`)).status).toBe(403);
    const now = await stateOf(path);
    const prices = Object.fromEntries(now.lines.map(({ id }) => [`price_${id}`, '9,50']));
    const form = { ...prices, freeLine: 'Box and carriage', freeAmount: '12', version: now.version };
    expect((await manager.post(`${path}/prices`, form)).status).toBe(303);
    expect((await hand.get(path)).body).toContain('EUR 40.50');
    const stale = await manager.post(`${path}/prices`, form);
    expect(stale.status).toBe(409);
    const edit = { buyer: 'Ana Reis', contact: 'Quay 3', note: '', until: '2026-12-05' };
    const late = await hand.post(path, { ...edit, version: 1 });
    expect(late.body).toContain('Somebody changed this order');
    expect((await hand.post(path, { ...edit, version: now.version + 1 })).status).toBe(303);
    const hold = await bench.service.db.hold.findFirstOrThrow({ where: { lotId: first.id } });
    expect(hold).toMatchObject({ buyer: 'Ana Reis', until: new Date('2026-12-05T00:00:00Z') });
  });

  test('of one lot is what a single hold and a single sale are', async () => {
    const lot = await priced(5);
    const held = await hand.post(`/lots/${lot.id}/holds`, {
      pieces: 2,
      buyer: 'Rui Sousa',
      until: '2026-12-01',
    });
    expect(held.status).toBe(303);
    await hand.post(`/lots/${lot.id}/sales`, { pieces: 1, buyer: 'Counter', hold: '', note: '', at: '' });
    const orders = await bench.service.db.salesOrder.findMany({
      where: { lines: { some: { lotId: lot.id } } },
      orderBy: { number: 'asc' },
    });
    expect(orders).toMatchObject([
      { buyer: 'Rui Sousa', stage: 'held' },
      { buyer: 'Counter', stage: 'gone' },
    ]);
    const hold = await bench.service.db.hold.findFirstOrThrow({ where: { lotId: lot.id } });
    await hand.post(`/holds/${hold.id}/release`, { reason: '' });
    expect(
      await bench.service.db.salesOrder.findUnique({ where: { id: orders[0]?.id ?? '' } }),
    ).toMatchObject({
      stage: 'cancelled',
    });
  });
});

describe('a box', () => {
  test('is packed lot by lot; one that gets too cold is refused until it is changed or a reason is given', async () => {
    const lots = [await priced(2), await priced(2)];
    const path = await taken(lots);
    const { lines } = await stateOf(path);
    const half = await pack(path, carried, [lines[0]?.id ?? '']);
    expect(half.status).toBe(409);
    expect(half.body).toContain(`Not ticked: ${lots[1]?.code}`);
    const cold = { ...carried, coldestDegC: 5, warmestDegC: 12 };
    const look = await pack(path, { ...cold, do: 'look' });
    expect(look.status).toBe(200);
    expect(look.body).toContain('16.5 °C');
    const refused = await pack(path, cold);
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('is not sent below 18.0 °C');
    const boxSeen = /name="boxSeen" value="([^"]+)"/.exec(refused.body)?.[1];
    const despite = await pack(path, { ...cold, boxSeen, boxDespite: 'A heated van, door to door' });
    expect(despite.status, despite.body).toBe(303);
    expect((await hand.get(path)).body).toContain('A heated van, door to door');
  });

  test('is not needed where the buyer comes: the order is packed, shown, handed over and printed without one', async () => {
    const path = await taken([await priced(2)]);
    const fetched = { ...carried, way: 'fetched', coldestDegC: 5, warmestDegC: 12 };
    expect((await pack(path, fetched)).status).toBe(303);
    for (const to of ['packed', 'gone', 'settled']) {
      if (to !== 'packed') expect((await stage(path, to, {}, manager)).status).toBe(303);
      for (const page of ['', '/packing', '/arrival', '/return', '/prices', '/change', '/packing-list.pdf'])
        expect((await manager.get(`${path}${page}`)).status, `${to} ${page}`).toBe(200);
    }
    expect((await hand.get(path)).body).toContain('The buyer came for it');
  });

  test('whose warmth cannot be said is a warning that is read first', async () => {
    const path = await taken([await priced(2)]);
    const unknown = { ...carried, wall: 'unknown', coldestDegC: '', warmestDegC: '' };
    const warned = await pack(path, unknown);
    expect(warned.status).toBe(409);
    expect(warned.body).toContain('cannot be said');
    const boxSeen = /name="boxSeen" value="([^"]+)"/.exec(warned.body)?.[1];
    expect((await pack(path, { ...unknown, boxSeen })).status).toBe(303);
  });

  test('goes only with a permit that is what is packed, and its arrival starts the claim and the carrier’s figures', async () => {
    const lot = await priced(3);
    const path = await taken([lot], { [`pieces_${lot.code}`]: 3 });
    const line = { species: 'Goniastrea retiformis', document: 'EX 417', sourceCode: 'C' };
    await hand.post(`${path}/permit`, { ...line, permitPieces: 2 });
    const differs = await pack(path);
    expect(differs.body).toContain('Goniastrea retiformis: 2 on the permit, 3 in the box.');
    await hand.post(`${path}/permit`, { ...line, permitPieces: 1 });
    expect((await pack(path)).status).toBe(303);
    const early = await hand.post(`${path}/arrival`, { at: '', version: 1 });
    expect(early.body).toContain('has not left yet');
    await stage(path, 'gone');
    expect((await hand.get('/stock/orders/arrivals')).body).toMatch(/order \d+/);
    const { lines } = await stateOf(path);
    const dead = { [`dead_${lines[0]?.id}`]: '1' };
    const tooEarly = { at: '2026-11-24T07:00', note: '', version: 1 };
    expect((await hand.post(`${path}/arrival`, tooEarly)).body).toContain(
      'The order was taken later than that',
    );
    const arrived = { at: '', late: 'yes', note: 'Cold bag', version: '1', ...dead };
    const content = await sharp(grey).jpeg().toBuffer();
    const photo = { field: 'photos', name: 'dead.jpg', content };
    const kept = await hand.upload(`${path}/arrival`, arrived, photo);
    expect(kept.status, kept.body).toBe(303);
    const { body } = await hand.get(path);
    expect(body).toContain('2 pieces alive, 1 dead when it was opened');
    expect(body).toMatch(/<img src="\/files\/[^"]+" alt="Dead on arrival"/);
    expect(body).toContain('12 hours left');
    expect((await hand.get('/stock/orders/arrivals')).body).toContain('North van');
    const list = await pdfText((await hand.get(`${path}/packing-list.pdf`)).raw);
    for (const said of ['Packing list', 'Goniastrea retiformis', 'EX 417', 'source C', 'North van'])
      expect(list).toContain(said);
  });
});

describe('a lot on more slots than it has pieces left', () => {
  test('is asked on its order which slots are empty, once the pieces have left', async () => {
    const lot = await priced(3);
    const slotIds = ['B1', 'B2', 'B3'].map((name) => shelf.slot(name));
    await bench.change((work) => moveLot(work, { lotId: lot.id, slotIds, at: work.now, reason: '' }));
    const path = await taken([lot], { [`pieces_${lot.code}`]: 2 });
    const asks = 'Which slots are empty now?';
    expect((await pack(path)).status).toBe(303);
    expect((await hand.get(path)).body).not.toContain(asks);
    await stage(path, 'gone');
    const { body } = await hand.get(path);
    expect(body).toContain(asks);
    expect(body).toMatch(/checked>\s*<span>B2 is empty[\s\S]*checked>\s*<span>B3 is empty/);
    const said = await hand.post('/stock/slots', { lot: lot.id, empty: slotIds.slice(1), back: path });
    expect(said.location).toBe(path);
    expect((await hand.get(path)).body).not.toContain(asks);
    const held = { where: { toAt: null, placement: { lotId: lot.id } } };
    expect((await bench.service.db.placementSlot.findMany(held)).map(({ slotId }) => slotId)).toEqual([
      slotIds[0],
    ]);
  });
});

describe('what leaves and comes back', () => {
  test('has a receipt, is tagged in one go, comes back into a lot kept apart, and its tag says so', async () => {
    const lots = [await priced(3), await priced(3)];
    const path = await taken(lots);
    const tags = await manager.post(`/tags/orders/${idIn(path)}`, { reason: '' });
    expect(tags.status, tags.body).toBe(303);
    expect(tags.location).toMatch(/^\/tags\/labels\?tag=.+&tag=/);
    await stage(path, 'gone');
    const receipt = await pdfText((await reader.get(`${path}/receipt.pdf`)).raw);
    for (const said of ['Receipt', 'Reef Room', 'EUR 12.50', 'EUR 25.00', lots[0]?.code ?? ''])
      expect(receipt).toContain(said);
    const { lines, version } = await stateOf(path);
    const [first, second] = lines;
    const form = { [`back_${first?.id}`]: 1, [`off_${second?.id}`]: 1, rack: '', version };
    expect((await hand.get(`${path}/return`)).status).toBe(403);
    expect((await manager.post(`${path}/return`, { ...form, reason: '' })).status).toBe(422);
    const back = await manager.post(`${path}/return`, { ...form, reason: 'Wrong colour' });
    expect(back.status, back.body).toBe(303);
    expect((await hand.get(path)).body).toContain('What comes back later is a lot of its own');
    const after = await stateOf(path);
    expect(after).toMatchObject({
      stage: 'returned',
      lines: [
        { backPieces: 1, writtenOffPieces: 0 },
        { backPieces: 0, writtenOffPieces: 1, backLotId: null },
      ],
    });
    const lot = await bench.service.db.lot.findUniqueOrThrow({
      where: { id: after.lines[0]?.backLotId ?? '' },
    });
    expect(lot).toMatchObject({
      pieces: 1,
      parentId: lots[0]?.id,
      quarantineUntil: new Date('2026-12-24T00:00:00Z'),
    });
    expect((await hand.get('/stock/ready?part=not')).body).toContain(lot.code);
    const tag = await bench.service.db.tag.findUniqueOrThrow({ where: { id: first?.tagId ?? '' } });
    // Of two pieces at EUR 12.50, one came back and one is written off.
    expect((await hand.get(path)).body).toContain('2 pieces back or written off, EUR 25.00; EUR 0.00 stays');
    const open = (await reader.get(`/t/${tag.token}`)).body;
    expect(open).toMatch(/came back to the farm on <time[^>]*>24 Nov 2026/);
    expect(open).not.toContain('Reef Room');
    expect((await stage(path, 'gone', { reason: 'x' }, manager)).body).toContain('was returned and stays so');
  });

  test('goes into no water under watch, and into no quarantine that runs, unless somebody chooses it', async () => {
    const { db } = bench.service;
    const basin = async (name: string) => {
      const size = { lengthMm: 900, widthMm: 400, heightMm: 300 };
      const tank = { ...size, quarantine: true, ownWater: 'A tank of its own' };
      const { id } = await db.tank.create({ data: { ...tank, systemId: shelf.systemId, name } });
      await db.rack.create({ data: { tankId: id, name, rows: 1, columns: 2, depthMm: 150 } });
      return id;
    };
    const [watched, clean] = [await basin('Basin, watched'), await basin('Clean basin')];
    const watch = { pest: 'porites_slug', openedAt: benchNow, systemId: shelf.systemId };
    await db.pestWatch.create({ data: { ...watch, tankId: watched } });
    const path = await taken([await priced(2)]);
    await stage(path, 'gone');
    const { body } = await manager.get(`${path}/return`);
    expect(body).toMatch(/Basin, watched, \d slots? free; under watch for /);
    expect(body).toMatch(/<option value="[^"]*" selected>Clean basin/);
    const purpose = { purpose: 'observe', days: 45, startedAt: benchNow, countsFrom: benchNow } as const;
    await db.quarantine.create({ data: { ...purpose, tankId: clean } });
    const later = (await manager.get(`${path}/return`)).body;
    expect(later).toMatch(/Clean basin, \d slots? free; the days of quarantine begin again/);
    expect(later).not.toMatch(/selected>Clean basin/);
    await db.pestWatch.deleteMany({ where: { tankId: watched } });
  });

  test('stands in the totals by month and kind, and in the files for the bookkeeper', async () => {
    const page = (await reader.get('/stock/orders/totals')).body;
    expect(page).toContain('2026-11');
    expect(page).toContain('Goniastrea retiformis');
    const csv = (await manager.get('/export/sales-by-month.csv')).body;
    expect(csv.split('\r\n')[0]).toBe(
      'site,month,kind,orders,pieces,amount,pieces without a price,came back or written off,amount of it,currency',
    );
    const row =
      csv
        .split('\r\n')
        .find((line) => line.includes('Goniastrea retiformis'))
        ?.split(',') ?? [];
    const sold = await bench.service.db.orderLine.findMany({
      where: { sale: { voidedAt: null }, saleId: { not: null } },
    });
    const minor = sold.reduce((sum, { pieces, priceMinor }) => sum + pieces * (priceMinor ?? 0), 0);
    expect(row.slice(4, 10)).toEqual([
      String(sold.reduce((sum, { pieces }) => sum + pieces, 0)),
      String(minor / 100),
      '0',
      '2',
      '25',
      'EUR',
    ]);
    for (const list of ['orders', 'order-lines', 'order-stages', 'boxes', 'permit-lines', 'sales']) {
      expect((await manager.get(`/export/${list}.csv`)).status, list).toBe(200);
      expect((await reader.get(`/export/${list}.csv`)).status, list).toBe(403);
    }
    expect((await manager.get('/journal?noun=sales_order')).body).toContain('Order');
  });
});

describe('an order of lots whose water is under watch for a pest', () => {
  test('is held, packed and sent only with the answer of the pest’s rule, also where it was held before', async () => {
    const [seen, beside] = [await priced(4), await priced(4)];
    for (const [lot, name] of [
      [seen, 'B11'],
      [beside, 'B12'],
    ] as const)
      await bench.change((work) =>
        moveLot(work, { lotId: lot.id, slotIds: [shelf.slot(name)], at: work.now, reason: '' }),
      );
    const path = await taken([beside]);
    const gone = await taken([beside]);
    expect((await pack(gone)).status).toBe(303);
    const look = { state: 'pest', grade: '1', pest: 'acropora_flatworm', pestCount: '4', note: '' };
    expect((await hand.post(`/lots/${seen.id}/conditions`, look)).status).toBe(303);
    // Seen on the very lot: it is held with a reason, and packed with none.
    const all = 'The buyer wants it all the same';
    expect((await order([seen])).status).toBe(409);
    const kept = await taken([seen], { despite: all });
    const refused = await pack(kept, { ...carried, despite: all });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('It was seen on this lot');
    expect((await stateOf(kept)).stage).toBe('held');
    // Beside it: the rule asks.
    const held = await order([beside]);
    expect(held.status).toBe(409);
    expect(held.body).toContain('under watch for');
    expect(await heldOf(beside)).toBe(2);
    expect((await pack(path)).status).toBe(409);
    expect((await stateOf(path)).stage).toBe('held');
    const sent = await stage(gone, 'gone');
    expect(sent.status).toBe(409);
    expect((await stateOf(gone)).stage).toBe('packed');
    expect((await lotOf(beside)).pieces).toBe(4);
    const despite = 'The buyer knows, and keeps it apart';
    const withReason = await pack(path, { ...carried, despite });
    expect(withReason.status, withReason.body).toBe(303);
    expect((await stage(gone, 'gone', { despite })).status).toBe(303);
    const watch = await bench.service.db.pestWatch.findFirstOrThrow();
    expect((await hand.get(`/stock/pests/${watch.id}`)).body).toContain(despite);
  });
});
