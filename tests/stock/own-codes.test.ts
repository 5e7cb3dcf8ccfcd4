import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findLots } from '../../src/stock/lots/search.ts';
import { holdPieces } from '../../src/stock/orders/single.ts';
import { type Bench, benchNow, browse, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('the farm’s own codes, trade names and prices', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  let manager: Visitor;
  let kindId: string;
  const found = async (text: string) =>
    (await findLots(bench.service.pool, { siteId: shelf.siteId, text }, benchNow)).lots.map(
      (lot) => lot.code,
    );
  const site = { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon', digestAt: '06:30' };
  const setCurrency = async (currency: string) => {
    const { version } = await bench.service.db.site.findUniqueOrThrow({ where: { id: shelf.siteId } });
    return manager.post('/farm/site', { ...site, currency, version });
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas Reed');
    manager = await bench.as('manager', 'Ines Varga');
    kindId = await shelf.kind('goniastrea-retiformis');
  });
  afterAll(() => bench.close());

  test('a price needs a currency, is kept in its minor units and shown with its code', async () => {
    const early = await hand.post('/stock', { kindId, pieces: 3, price: '12.50' });
    expect(early.status).toBe(422);
    expect(early.body).toContain('Choose the currency first');
    expect((await setCurrency('euro')).status).toBe(422);
    expect((await setCurrency('EUR')).status).toBe(303);
    const taken = await hand.post('/stock', { kindId, pieces: 3, price: '1,200.50', ownCode: 'P-1' });
    expect(taken.status).toBe(303);
    const lot = await bench.service.db.lot.findFirstOrThrow({ where: { ownCode: 'P-1' } });
    expect(lot.priceMinor).toBe(120_050);
    for (const page of [`/stock/${lot.code}`, '/stock', '/stock/ready?part=not'])
      expect((await hand.get(page)).body, page).toContain('EUR 1,200.50');
    const wrong = await hand.post('/stock', { kindId, pieces: 3, price: 'twelve' });
    expect(wrong.body).toContain('Enter the price of one piece in EUR, like 12.50.');
    const json = (await hand.get(`/api/lots/${lot.code}`)).json() as { price: object };
    expect(json.price).toEqual({ minor: 120_050, currency: 'EUR' });
  });

  test('the currency stays while lots have prices in it', async () => {
    const refused = await setCurrency('JPY');
    expect(refused.status).toBeGreaterThanOrEqual(409);
    expect(refused.body).toContain('Take their prices away first.');
    expect((await bench.service.db.site.findFirstOrThrow()).currency).toBe('EUR');
  });

  test('the first part of a code finds it, though it reads like a slot; no slot is found by a part of its name', async () => {
    const slotIds = [shelf.slot('B10')];
    expect((await hand.post('/stock', { kindId, pieces: 2, ownCode: 'W13-1' })).status).toBe(303);
    const lot = await bench.service.db.lot.findFirstOrThrow({ where: { ownCode: 'W13-1' } });
    const { code } = await shelf.lot({ slotIds });
    expect(await found('w13')).toEqual([lot.code]);
    expect(await found('W13 goniastrea')).toEqual([lot.code]);
    expect(await found('w13 montipora')).toEqual([]);
    expect(await found('B10')).toEqual([code]);
    expect(await found('B1')).toEqual([]);
  });

  test('an own code is refused twice, whatever its case and spaces, until its lot is gone', async () => {
    const first = await hand.post('/stock', { kindId, pieces: 2, ownCode: 'ac-12 b' });
    expect(first.status).toBe(303);
    const again = await hand.post('/stock', { kindId, pieces: 2, ownCode: 'AC-12B' });
    expect(again.body).toContain('A lot with this own code is here already.');
    expect(again.body).toContain('value="AC-12B"');
    const lot = await bench.service.db.lot.findFirstOrThrow({ where: { ownCode: 'ac-12 b' } });
    await hand.post(`/lots/${lot.id}/ledger`, { reason: 'lost', pieces: 2, note: '', at: '' });
    expect((await hand.post('/stock', { kindId, pieces: 2, ownCode: 'AC-12B' })).status).toBe(303);
  });

  test('typing an own code opens its lot, and it is what the lot is called where people read', async () => {
    const { id, code } = await shelf.lot({
      ownCode: 'Green 7',
      tradeName: 'Harbour Light',
      slotIds: [shelf.slot('B4')],
    });
    const typed = await hand.get('/stock?q=green7');
    expect(typed.location).toBe(`/stock/${code}`);
    expect((await hand.get('/stock/GREEN%207')).location).toBe(`/stock/${code}`);
    const page = (await hand.get(`/stock/${code}`)).body;
    expect(page).toMatch(/<h1><span class="lot-code">Green 7<\/span>[\s\S]*?Harbour Light<\/h1>/);
    const rack = (await hand.get(`/racks/${shelf.rackId}`)).body;
    expect(rack).toMatch(/<text class="code"[^>]*>Green 7<\/text>/);
    expect((await hand.get('/racks/move?lot=green+7')).body).toContain('Green 7');
    const plan = await bench.service.db.roundPlan.create({
      data: {
        siteId: shelf.siteId,
        name: 'Morning look',
        startsAt: '08:00',
        weekdays: [1, 2, 3, 4, 5, 6, 7],
        steps: ['look'],
        tanks: { create: { position: 0, tankId: (await bench.service.db.tank.findFirstOrThrow()).id } },
      },
    });
    const round = await hand.post('/rounds', { planId: plan.id, day: '2026-11-24' });
    const walked = await hand.get(round.location ?? '');
    expect(round.location).toContain(`/racks/${shelf.rackId}`);
    expect(walked.body).toContain('<strong>Green 7</strong>');
    await manager.post('/tags', { lot: code, pieces: 1, reason: 'asked for' });
    const tag = await bench.service.db.tag.findFirstOrThrow({ where: { lotId: id } });
    const shown = (await manager.get(`/tags/${tag.id}`)).body;
    expect(shown).toContain('<div class="code">Green 7</div>');
    expect(shown).toContain('Harbour Light');
    expect((await browse(bench.app).get(`/t/${tag.token}`)).body).toContain('<h1>Harbour Light</h1>');
  });

  test('every word a person could know of a lot finds it', async () => {
    const { id, code } = await shelf.lot({
      ownCode: 'Zx-90',
      tradeName: 'Lantern Bay',
      origin: 'Oduya Reef Culture',
      permit: 'PT 2211',
      note: 'chipped corner',
      slotIds: [shelf.slot('B7')],
    });
    const until = '2026-12-01';
    await bench.change((work) =>
      holdPieces(work, { lotId: id, pieces: 1, buyer: 'M. Quint', until, note: '' }),
    );
    const words = [
      'zx-90',
      'ZX',
      'lantern',
      'oduya',
      '2211',
      'chipped',
      'quint',
      'b7',
      'lantern quint b7',
      code,
    ];
    for (const word of words) expect(await found(word), word).toContain(code);
    expect(await found('lantern a1')).toEqual([]);
  });

  test('each of 400 own codes is found, among them those that begin alike', async () => {
    const own = Array.from(
      { length: 400 },
      (_, i) => `R${1 + (i % 18)}/${Math.floor(i / 18)}-${'abc'[i % 3]}`,
    );
    const codes = new Map<string, string>();
    for (const ownCode of own) codes.set(ownCode, (await shelf.lot({ ownCode, pieces: 1 })).code);
    for (const ownCode of own) {
      const answer = await hand.get(`/stock?q=${encodeURIComponent(ownCode.toUpperCase())}`);
      expect(answer.location, ownCode).toBe(`/stock/${codes.get(ownCode)}`);
    }
    expect(await found('R7/')).toHaveLength(own.filter((one) => one.includes('R7/')).length);
  });
});

describe('taking a lot in by hand', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas Reed');
  });
  afterAll(() => bench.close());

  const newest = () =>
    bench.service.db.lot.findFirstOrThrow({
      orderBy: { id: 'desc' },
      include: { kind: true, placements: { include: { slots: true } } },
    });

  test('several free slots are chosen on the rack and named on the form', async () => {
    const query = ['B1', 'B2', 'B3'].map((name) => `slot=${shelf.slot(name)}`).join('&');
    expect((await hand.get(`/stock/new?${query}`)).body).toContain(
      'It goes to <strong>Rack S2, B1 to B3</strong>',
    );
    const slot = ['B1', 'B2', 'B3'].map((name) => shelf.slot(name));
    const taken = await hand.post('/stock', { kindId: 'sociatus', pieces: 9, slot });
    expect(taken.status, taken.body).toBe(303);
    const lot = await newest();
    expect(lot.kind.code).toBe('zoanthus-sociatus');
    expect(lot.placements[0]?.slots).toHaveLength(3);
    const free = (await hand.get(`/racks/move?slot=${shelf.slot('A1')}`)).body;
    expect(free).toContain(`/stock/new?slot=${shelf.slot('A1')}`);
  });

  test('a part of a name is enough where one kind has it; several are named, none says so', async () => {
    const several = await hand.post('/stock', { kindId: 'dipsastraea', pieces: 1 });
    expect(several.body).toContain(
      'Several kinds are called “dipsastraea”: Dipsastraea favus, Dipsastraea speciosa',
    );
    expect(several.body).toContain('value="dipsastraea"');
    const none = await hand.post('/stock', { kindId: 'tulip', pieces: 1 });
    expect(none.body).toContain('No kind is called “tulip”.');
    expect((await hand.post('/stock', { kindId: 'favia favus', pieces: 1 })).status).toBe(303);
    expect((await newest()).kind.code).toBe('dipsastraea-favus');
  });

  test.each([
    ['A. tenuis', 'Acropora tenuis'],
    ['acro ten', 'Acropora tenuis'],
    ['birdsnest', 'Seriatopora hystrix'],
    ['Bird’s-nest', 'Seriatopora hystrix'],
    ['DISC ANEMONE', 'Discosoma'],
  ])('a name may be cut short or spaced otherwise: %s', async (typed, name) => {
    const taken = await hand.post('/stock', { kindId: typed, pieces: 1 });
    expect(taken.status, taken.body).toBe(303);
    expect((await newest()).kind.name).toContain(name);
  });

  test('a day alone is noon of that day, and today is now', async () => {
    await hand.post('/stock', { kindId: 'Favites pentagona', pieces: 1, at: '2026-11-02' });
    expect((await newest()).arrivedAt.toISOString()).toBe('2026-11-02T12:00:00.000Z');
    await hand.post('/stock', { kindId: 'Favites pentagona', pieces: 1, at: '2026-11-24' });
    expect((await newest()).arrivedAt).toEqual(benchNow);
  });

  test('another like a lot has its kind, names, papers and size, and a code of its own', async () => {
    const made = await hand.post('/stock', {
      ...{ kindId: 'Favites pentagona', pieces: 4, ownCode: 'F-1', tradeName: 'Lantern Bay' },
      ...{ origin: 'Oduya Reef Culture', permit: 'PT 2211', sizeMm: 30 },
    });
    const code = made.location?.split('/')[2];
    const { body } = await hand.get(`/stock/new?like=${code}`);
    for (const value of ['Favites pentagona', 'Lantern Bay', 'Oduya Reef Culture', 'PT 2211', '30'])
      expect(body, value).toContain(`value="${value}"`);
    expect(body).not.toContain('value="F-1"');
    expect((await hand.get(made.location ?? '')).body).toContain(`/stock/${code}/photo`);
    expect(body).toMatch(/name="at" type="date" value=""/);
  });

  test('another like a lot that came earlier and is typed in today keeps the day', async () => {
    const made = await hand.post('/stock', { kindId: 'Favites pentagona', pieces: 4, at: '2026-11-20' });
    const { body } = await hand.get(`/stock/new?like=${made.location?.split('/')[2]}`);
    expect(body).toMatch(/name="at" type="date" value="2026-11-20"/);
  });
});
