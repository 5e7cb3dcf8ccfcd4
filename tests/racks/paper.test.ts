import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

describe('lists on paper', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  const lotOf = (id: string) => bench.service.db.lot.findUniqueOrThrow({ where: { id } });
  const codesIn = (body: string) =>
    [...body.slice(body.indexOf('<tbody>')).matchAll(/class="lot-code">([^<]+)</g)].map(([, code]) => code);

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas Reed');
  });
  afterAll(() => bench.close());

  test('a rack’s list has its drawing and numbered lines by slot, and is typed in in the same order', async () => {
    const last = await shelf.lot({ slotIds: [shelf.slot('B2')] });
    const first = await shelf.lot({ slotIds: [shelf.slot('A3')] });
    const paper = await hand.get(`/stock/paper?rack=${shelf.rackId}`);
    expect(paper.body).toContain('<svg class="rack"');
    expect(codesIn(paper.body)).toEqual([first.code, last.code]);
    const typing = await hand.get(`/stock/paper/typing?ticked=${first.code}.${last.code}`);
    expect(paper.body.replaceAll('&#x3D;', '=')).toContain(
      `/stock/paper/typing?ticked=${first.code}.${last.code}`,
    );
    expect(codesIn(typing.body)).toEqual([first.code, last.code]);
  });

  test('looks, counts and sizes are entered in one change, as of when they were written', async () => {
    const lots = [await shelf.lot(), await shelf.lot(), await shelf.lot({ slotIds: [shelf.slot('A9')] })];
    const [well, fewer, none] = lots as unknown as [
      { id: string; code: string },
      (typeof lots)[0],
      (typeof lots)[0],
    ];
    const written = {
      at: '2026-11-24T07:15',
      [`state_${well.code}`]: 'well',
      [`size_${well.code}`]: '42',
      [`pieces_${fewer?.code}`]: '3',
      [`pieces_${none?.code}`]: '0',
    };
    const ticked = lots.map(({ code }) => code).join('.');
    const form = { ticked, ...written, _key: '0197d3a0-0000-7000-8000-00000000b001' };
    for (let i = 0; i < 2; i++) expect((await hand.post('/stock/paper/typing', form)).status).toBe(303);
    expect((await lotOf(well.id)).sizeMm).toBe(42);
    const site = await bench.service.db.site.findUniqueOrThrow({ where: { id: shelf.siteId } });
    const looks = await bench.service.db.condition.findMany({ where: { lotId: well.id } });
    expect(looks).toMatchObject([{ state: 'well' }]);
    expect(
      new Intl.DateTimeFormat('en-GB', { timeZone: site.timeZone, timeStyle: 'short' }).format(looks[0]?.at),
    ).toBe('07:15');
    expect((await lotOf(fewer?.id ?? '')).pieces).toBe(3);
    expect((await lotOf(none?.id ?? '')).pieces).toBe(0);
    const lines = await bench.service.db.ledgerEntry.findMany({
      where: { lotId: fewer?.id, reason: 'recount' },
    });
    expect(lines).toMatchObject([{ change: -2 }]);
    expect(await bench.service.db.placement.count({ where: { lotId: none?.id, toAt: null } })).toBe(0);
  });

  test('a line that cannot be read brings the whole sheet back as typed, and nothing is entered', async () => {
    const [good, bad] = [await shelf.lot(), await shelf.lot()];
    const answer = await hand.post('/stock/paper/typing', {
      ticked: `${good.code}.${bad.code}`,
      at: '',
      [`size_${good.code}`]: '55',
      [`pieces_${bad.code}`]: 'some',
      [`note_${bad.code}`]: 'Chipped',
    });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('value="55"');
    expect(answer.body).toContain('value="some"');
    expect(answer.body).toContain(`href="#pieces_${bad.code}"`);
    expect((await lotOf(good.id)).sizeMm).toBe(30);
    const empty = await hand.post('/stock/paper/typing', { ticked: good.code, at: '' });
    expect(empty.body).toContain('Nothing is typed in yet.');
  });

  test('a long list is typed in page by page, in its order', async () => {
    const codes: string[] = [];
    for (let i = 0; i < 16; i++) codes.push((await shelf.lot()).code);
    const first = await hand.get(`/stock/paper/typing?ticked=${codes.join('.')}`);
    expect(codesIn(first.body)).toEqual(codes.slice(0, 14));
    expect(first.body).toContain('2 lines follow');
    const form = {
      ...{ ticked: codes.slice(0, 14).join('.'), later: codes.slice(14).join('.'), line: '1' },
      ...{ at: '2026-11-24T07:15', [`size_${codes[0]}`]: '41' },
    };
    const { location } = await hand.post('/stock/paper/typing', form);
    const next = await hand.get(location ?? '');
    expect(codesIn(next.body)).toEqual(codes.slice(14));
    expect(next.body).toContain('data-label="No.">15<');
    expect(next.body).toContain('value="2026-11-24T07:15"');
    expect(next.body).toContain('Save all lines');
  });

  test('what is ready to sell, ticked, or found by a search is a list too', async () => {
    const lot = await shelf.lot({ tradeName: 'Harbour Green' });
    expect(codesIn((await hand.get('/stock/paper?q=harbour')).body)).toEqual([lot.code]);
    expect(codesIn((await hand.get(`/stock/paper?lot=${lot.code}`)).body)).toEqual([lot.code]);
    expect((await hand.get('/stock/paper?ready=yes')).body).toContain('There is no lot for such a list.');
  });
});
