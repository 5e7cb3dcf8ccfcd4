import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { holdPieces } from '../../src/stock/orders/single.ts';
import { type Answer, type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

/** The fields that the page's own form carries unseen. */
const hidden = ({ body }: Answer, name: string) =>
  new RegExp(`name="${name}" value="([^"]*)"`).exec(body.slice(body.indexOf('method="post"')))?.[1] ?? '';

describe('several lots at once', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  const lotOf = (id: string) => bench.service.db.lot.findUniqueOrThrow({ where: { id } });
  const asked = (codes: readonly string[]) => codes.map((code) => `lot=${code}`).join('&');

  /** Opens the page of an operation for these lots, fills in the form and sends it. */
  const doIt = async (page: string, lots: readonly { code: string }[], form: Record<string, unknown>) => {
    const codes = lots.map(({ code }) => code);
    const open = await hand.get(`${page}?${asked(codes)}&back=/stock`);
    const sent = { ticked: codes.join('.'), agreed: hidden(open, 'agreed'), back: '/stock', ...form };
    return { open, answer: await hand.post(page, sent) };
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    await bench.service.db.site.update({ where: { id: shelf.siteId }, data: { currency: 'EUR' } });
    hand = await bench.as('hand', 'Tomas Reed');
  });
  afterAll(() => bench.close());

  test('ticks outlive pages, searches and tabs, and can be taken off', async () => {
    const lots = [await shelf.lot(), await shelf.lot(), await shelf.lot()];
    const [first, second, third] = lots.map(({ code }) => code);
    const page = await hand.get(`/stock?ticked=${first}&lot=${second}&q=${third}%20Goniastrea`);
    expect(page.body).toContain(`name="ticked" value="${first}.${second}"`);
    expect(page.body).toContain('2 of them not on this page');
    const all = await hand.get(`/stock?ticked=${first}&lot=${second}`);
    for (const code of [first, second]) expect(all.body).toContain(`name="lot" value="${code}" checked`);
    expect(all.body).toContain(`name="lot" value="${third}">`);
    expect(all.body.replaceAll('&#x3D;', '=')).toContain(`only=unplaced&amp;ticked=${first}.${second}`);
    expect((await hand.get(`/stock?ticked=${first}&untick=all`)).body).not.toContain('checked');
  });

  test('a price is set on all of them in one change, and each has its line in the journal', async () => {
    const lots = [await shelf.lot(), await shelf.lot(), await shelf.lot({ priceMinor: 1400 })];
    const { open, answer } = await doIt('/stock/several/price', lots, { price: '12,50' });
    expect(open.body).toContain('Now not set');
    expect(open.body).toContain('Now EUR 14.00');
    expect(answer).toMatchObject({
      status: 303,
      location: `/stock?ticked=${lots.map(({ code }) => code).join('.')}`,
    });
    for (const { id } of lots) expect((await lotOf(id)).priceMinor).toBe(1250);
    const lines = await bench.service.db.journalLine.findMany({
      where: { kind: 'lot.changed', subjectId: { in: lots.map(({ id }) => id) } },
    });
    expect(lines.map(({ detail }) => (detail as { after: unknown }).after)).toContainEqual({
      sizeMm: 30,
      priceMinor: 1250,
    });
    expect(lines).toHaveLength(3);
    expect((await hand.get('/stock')).body).toContain('The price of 3 lots is set.');
  });

  test('no price is taken away by a form in which none was typed', async () => {
    const lots = [await shelf.lot({ priceMinor: 1400 }), await shelf.lot({ priceMinor: 900 })];
    const ticked = lots.map(({ code }) => code).join('.');
    for (const price of ['', ' ']) {
      const answer = await hand.post('/stock/several/price', {
        ticked,
        agreed: ticked,
        back: '/stock',
        price,
      });
      expect(answer.status).toBe(422);
      expect(answer.body).toContain('Enter the price of one piece.');
    }
    expect(await Promise.all(lots.map(async ({ id }) => (await lotOf(id)).priceMinor))).toEqual([1400, 900]);
  });

  test('the same form sent twice does it once', async () => {
    const lots = [await shelf.lot({ pieces: 4 }), await shelf.lot({ pieces: 4 })];
    const codes = lots.map(({ code }) => code).join('.');
    const key = '0197d3a0-0000-7000-8000-00000000a001';
    const form = { state: 'well', note: '', ticked: codes, agreed: codes, back: '/stock', _key: key };
    for (let i = 0; i < 2; i++) expect((await hand.post('/stock/several/condition', form)).status).toBe(303);
    for (const { id } of lots)
      expect(await bench.service.db.condition.count({ where: { lotId: id } })).toBe(1);
  });

  test('lots with held pieces are left as they are, said before and after; the others are retired', async () => {
    const held = await shelf.lot({ slotIds: [shelf.slot('A1')] });
    const free = await shelf.lot({ slotIds: [shelf.slot('A2')] });
    const gone = await shelf.lot({ pieces: 3 });
    await bench.change((work) =>
      holdPieces(work, { lotId: held.id, pieces: 2, buyer: 'Reef Room', until: '2026-12-01', note: '' }),
    );
    const { open, answer } = await doIt('/stock/several/retirement', [held, free, gone], {
      reason: 'lost',
      note: 'Thrown out after the heater failed',
    });
    expect(open.body).toContain('2 pieces are held for a buyer. Release the hold first.');
    expect(open.body).toContain('5 to 0 pieces; Rack S2, A2 becomes free');
    expect(open.body).toContain('Take all pieces off the count: 2 lots');
    expect(answer.status).toBe(303);
    expect((await lotOf(held.id)).pieces).toBe(5);
    expect((await lotOf(free.id)).pieces).toBe(0);
    const entries = await bench.service.db.ledgerEntry.findMany({
      where: { lotId: free.id, reason: 'lost' },
    });
    expect(entries).toMatchObject([{ change: -5, note: 'Thrown out after the heater failed' }]);
    const places = await bench.service.db.placement.findMany({ where: { lotId: free.id, toAt: null } });
    expect(places).toEqual([]);
    expect((await hand.get('/stock')).body).toContain('1 lot is left as before');
  });

  test('what has changed since the list was looked at is shown again before anything is done', async () => {
    const lots = [await shelf.lot({ pieces: 3 }), await shelf.lot({ pieces: 3 })];
    const [first, second] = lots as [{ id: string; code: string }, { id: string; code: string }];
    const open = await hand.get(`/stock/several/retirement?${asked([first.code, second.code])}`);
    const hold = { pieces: 3, buyer: 'Somebody else', until: '2026-12-01', note: '' };
    await bench.change((work) => holdPieces(work, { lotId: second.id, ...hold }));
    const ticked = `${first.code}.${second.code}`;
    const form = { reason: 'lost', note: 'Thrown out', ticked, agreed: hidden(open, 'agreed') };
    const answer = await hand.post('/stock/several/retirement', form);
    expect(answer.status).toBe(409);
    expect(answer.body).toContain('3 pieces are held for a buyer. Release the hold first.');
    expect((await lotOf(first.id)).pieces).toBe(3);
    const agreed = hidden(answer, 'agreed');
    expect(agreed).toBe(first.code);
    expect((await hand.post('/stock/several/retirement', { ...form, agreed })).status).toBe(303);
    expect((await lotOf(first.id)).pieces).toBe(0);
  });

  test('how they look is noted of all, and pauses the acclimation of those that pale', async () => {
    const lots = [await shelf.lot(), await shelf.lot(), await shelf.lot()];
    const [first] = lots as [{ id: string; code: string }];
    const acclimation = await bench.service.db.acclimation.create({
      data: {
        siteId: shelf.siteId,
        name: 'Up to the light',
        ...{
          purpose: 'brighter',
          received: 'here',
          fromDli: 4,
          targetDli: 8,
          maxStepRatio: 1.3,
          dwellDays: 7,
        },
        startsOn: new Date('2026-11-20T00:00:00Z'),
        createdAt: new Date('2026-11-20T08:00:00Z'),
        lots: { create: { lotId: first.id } },
      },
    });
    await doIt('/stock/several/condition', lots, {
      state: 'paling',
      grade: 2,
      note: 'All at the rim',
      at: '',
    });
    for (const { id } of lots)
      expect(await bench.service.db.condition.findMany({ where: { lotId: id } })).toMatchObject([
        { state: 'paling', grade: 2, note: 'All at the rim' },
      ]);
    const paused = await bench.service.db.acclimation.findUniqueOrThrow({ where: { id: acclimation.id } });
    expect(paused.pauseReason).toBe(`${first.code} was seen paling, about a third`);
  });

  test('tags are issued for all of them but those with an open alert, and their labels come next', async () => {
    const manager = await bench.as('manager', 'Ines Varga');
    const lots = [
      await shelf.lot({ pieces: 4 }),
      await shelf.lot({ pieces: 2 }),
      await shelf.lot({ pieces: 1 }),
    ];
    const ticked = lots.map(({ code }) => code).join('.');
    const open = await manager.get(`/tags/several?ticked=${ticked}`);
    expect(open.body).toContain('A tag for 4 pieces');
    const sent = { ticked, agreed: hidden(open, 'agreed'), back: '/stock', pieces: '2', reason: '' };
    const changed = await manager.post('/tags/several', sent);
    expect(changed.status).toBe(409);
    expect(changed.body).toContain('Only 1 piece is there.');
    const answer = await manager.post('/tags/several', { ...sent, agreed: hidden(changed, 'agreed') });
    expect(answer.location).toMatch(/^\/tags\/labels\?tag=.+&tag=.+/);
    const tags = await bench.service.db.tag.findMany({ where: { lotId: { in: lots.map(({ id }) => id) } } });
    expect(tags.map(({ pieces }) => pieces)).toEqual([2, 2]);
  });

  test('tags for several show buyers each lot’s newest photo, or none of them', async () => {
    const manager = await bench.as('manager');
    const lot = await shelf.lot({ pieces: 4 });
    const [id, takenAt] = [uuidv7(), new Date(benchNow.getTime() - 86_400_000)];
    const bytes = { image: new Uint8Array([1]), small: new Uint8Array([1]) };
    await bench.service.db.photo.create({
      data: { id, lotId: lot.id, takenAt, createdAt: takenAt, width: 1, height: 1, ...bytes },
    });
    for (const [hidePhoto, photoId] of [
      ['', id],
      ['on', null],
    ] as const) {
      const ticked = lot.code;
      const open = await manager.get(`/tags/several?ticked=${ticked}`);
      const sent = {
        ticked,
        agreed: hidden(open, 'agreed'),
        back: '/stock',
        pieces: '1',
        reason: '',
        hidePhoto,
      };
      const { location } = await manager.post('/tags/several', sent);
      const tag = String(String(location).split('tag=')[1]);
      expect(await bench.service.db.tag.findUnique({ where: { id: tag } })).toMatchObject({ photoId });
    }
  });

  test('a page on which no lot is changed as it is now can still be filled in otherwise and sent', async () => {
    const lots = [await shelf.lot(), await shelf.lot()];
    await doIt('/stock/several/condition', lots, { state: 'paling', grade: 1 });
    const cut = await doIt('/stock/several/cut', lots, { pieces: '1' });
    expect(cut.open.body).toContain('Say why you cut it anyway.');
    expect(cut.open.body).toContain('Make the new lots</button>');
    const sent = { ticked: lots.map(({ code }) => code).join('.'), back: '/stock', pieces: '1' };
    const told = await hand.post('/stock/several/cut', { ...sent, despite: 'Saving the tips', agreed: '' });
    expect(told.status).toBe(409);
    const again = { ...sent, despite: 'Saving the tips', agreed: hidden(told, 'agreed') };
    expect((await hand.post('/stock/several/cut', again)).status).toBe(303);
    const same = (await doIt('/stock/several/size', lots, { sizeMm: 30 })).answer;
    expect(same.body).toContain('As the form is now, none of these lots is changed.');
    expect(same.body).toContain('Set the size</button>');
  });

  test('a refused form keeps what was typed, and the lots', async () => {
    const lot = await shelf.lot();
    const { answer } = await doIt('/stock/several/size', [lot], { sizeMm: 'big' });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('value="big"');
    expect(answer.body).toContain(lot.code);
    expect((await doIt('/stock/several/size', [lot], { sizeMm: 45 })).answer.status).toBe(303);
    expect((await lotOf(lot.id)).sizeMm).toBe(45);
    expect((await doIt('/stock/several/size', [lot], { sizeMm: 45 })).answer.status).toBe(409);
  });

  test('a page without ticks says where to tick', async () => {
    for (const page of ['price', 'size', 'retirement', 'condition', 'photo'])
      expect((await hand.get(`/stock/several/${page}`)).body).toContain('No lot is ticked.');
  });
});
