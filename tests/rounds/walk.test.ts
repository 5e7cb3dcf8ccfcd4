import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { TabletRound } from '../../src/browser/store/types.ts';
import { readSheet } from '../../src/rounds/round/round-sheet.ts';
import { findRound } from '../../src/rounds/round/rounds.ts';
import { oneAnswer, screenPlaces } from '../../src/rounds/screens/screen-list.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { begin, type Hall, makeHall, planRound, zone } from './hall.ts';

/** The fields of the form on a page that holds this markup. */
function formWith(html: string, markup: string): Record<string, string> {
  const form = html.split('<form').find((part) => part.split('</form>')[0]?.includes(markup)) ?? '';
  const inputs =
    form.split('</form>')[0]?.matchAll(/<input type="hidden" name="([^"]+)" value="([^"]*)"/g) ?? [];
  return Object.fromEntries([...inputs].map(([, name, value]) => [name ?? '', value ?? '']));
}

/** The fields of the form on a page that leads to `action`. */
const formOf = (html: string, action: string) => formWith(html, `action="${action}"`);

/** The fields of the form on a page that notes an entry of a kind. */
const formOfKind = (html: string, kind: string) => formWith(html, `name="kind" value="${kind}"`);

describe('a round walked by plain forms', () => {
  let bench: Bench;
  let hall: Hall;
  let hand: Visitor;
  let round: string;
  const rack = (id: string) => `${round}/racks/${id}`;
  const entries = () => `${round}/entries`;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hall = await makeHall(bench);
    hand = await bench.as('hand', 'Nor Abell');
    round = `/rounds/${await begin(bench, hall, await planRound(bench, hall, { name: 'Morning round' }), '2026-11-24')}`;
  });
  afterAll(() => bench.close());

  test('it leads past the racks that hold lots, in order, and shows how far it is', async () => {
    const { body } = await hand.get(round);
    expect(body).toContain('0 of 2 racks');
    expect(body).toMatch(/Window rack[\s\S]*Wall rack/);
    expect(body).not.toContain('Bare rack');
  });

  test('a rack whose lots have alerts is marked in the list', async () => {
    const openedAt = new Date('2026-11-20T00:00:00Z');
    const { id } = await bench.service.db.alert.create({
      data: {
        ...{
          rule: 'lot-light',
          facet: '',
          subjectType: 'lot',
          subjectId: hall.lots.A1.id,
          title: 'It pales',
        },
        ...{
          systemId: hall.systemId,
          severity: 'now',
          worst: 1,
          openedAt,
          evaluatedAt: openedAt,
          finding: {},
        },
      },
    });
    const { body } = await hand.get(round);
    expect(body).toMatch(/Window rack<\/strong> <span class="now-word">.*<\/span>1 now</);
    expect(body).not.toMatch(/Wall rack<\/strong> <span/);
    await bench.service.db.alert.delete({ where: { id } });
  });

  test('a lot is noted on its own page, and the rack then offers the others', async () => {
    const first = (await hand.get(rack(hall.window))).body;
    expect(first).toContain(`href="${rack(hall.window)}/lots/${hall.lots.A1.id}"`);
    expect(first).toContain('All well');
    const page = (await hand.get(`${rack(hall.window)}/lots/${hall.lots.A1.id}`)).body;
    const form = { ...formOf(page, entries()), state: 'bleached', grade: '2', note: 'tips only' };
    expect((await hand.post(entries(), form)).location).toBe(rack(hall.window));
    const then = (await hand.get(rack(hall.window))).body;
    expect(then).toContain('bleached, about a third');
    expect(then).toContain('All others well');
  });

  test('a refused note comes back as typed, under the same key', async () => {
    const page = (await hand.get(`${rack(hall.window)}/lots/${hall.lots.A1.id}`)).body;
    const form = { ...formOf(page, entries()), state: 'other', note: '' } as Record<string, string>;
    const answer = await hand.post(entries(), form);
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('Say in the note what you saw.');
    expect(answer.body).toMatch(/value="other" ?checked/);
    expect(formOf(answer.body, entries()).id).toBe(form.id);
  });

  test('what recedes asks whether flesh comes off, and leads to the steps of that', async () => {
    const page = (await hand.get(`${rack(hall.window)}/lots/${hall.lots.A1.id}`)).body;
    const [, steps = ''] = /class="of-receding">.*?href="([^"]+)"/s.exec(page) ?? [];
    const answer = await hand.get(steps);
    expect(answer.status).toBe(200);
    expect(answer.body).toContain('Corals lose tissue');
  });

  test('nothing chosen is said beside the question', async () => {
    const page = (await hand.get(`${rack(hall.window)}/lots/${hall.lots.A1.id}`)).body;
    expect((await hand.post(entries(), formOf(page, entries()))).body).toContain('Choose what you see.');
  });

  test('one tap closes the rack and leads to the next that wants looking at', async () => {
    const form = formOfKind((await hand.get(rack(hall.window))).body, 'rack_well');
    const answer = await hand.post(entries(), form);
    expect(answer.location).toBe(rack(hall.wall));
    expect((await hand.post(entries(), form)).location).toBe(rack(hall.wall));
    expect((await hand.get(rack(hall.wall))).body).toContain('1 of 2 racks');
    expect(await bench.service.db.roundEntry.count({ where: { kind: 'rack_well' } })).toBe(1);
  });

  test('feeding starts the pumps’ time, which every screen shows until somebody ticks it', async () => {
    const path = `${round}/systems/${hall.systemId}`;
    const page = (await hand.get(path)).body;
    const form = { ...formOfKind(page, 'feeding'), food: 'Fine food', pumpsOffMin: '20' };
    expect((await hand.post(entries(), form)).location).toBe(path);
    expect((await hand.get(rack(hall.wall))).body).toContain('Pumps off in Shallow');
    bench.at('2026-11-24T08:30:00Z');
    expect((await hand.get(rack(hall.wall))).body).toContain('late since');
    expect((await hand.get('/')).body).toContain('should be back since');
    await hand.post(entries(), formOfKind((await hand.get(path)).body, 'pumps_on'));
    expect((await hand.get(path)).body).toContain('pumps on again');
    expect((await hand.get(rack(hall.wall))).body).not.toContain('Pumps off in Shallow');
  });

  test('what was fed the day before is fed again in one tap, and the water comes after its last rack', async () => {
    const path = `${round}/systems/${hall.systemId}`;
    const { db } = bench.service;
    const yesterday = { food: 'Chopped shrimp', amountG: 12, at: new Date('2026-11-23T17:00:00Z') };
    await db.feeding.create({ data: { systemId: hall.systemId, ...yesterday } });
    const page = (await hand.get(path)).body;
    expect(page).toContain('Fed the same');
    const latest = async () => (await hand.get(`/api${round}/latest`)).json();
    const before = await latest();
    await hand.post(entries(), formOfKind(page, 'feeding'));
    expect(await latest()).not.toEqual(before);
    expect(await db.feeding.count({ where: { food: 'Chopped shrimp', amountG: 12 } })).toBe(2);
    expect((await hand.get(path)).body).not.toContain('Fed the same');
    const afterRack = async () => formOfKind((await hand.get(rack(hall.wall))).body, 'rack_well').next;
    expect(await afterRack()).toBe(`${path}/tests`);
  });

  test('readings are entered on the water’s own form, which leads back to the round', async () => {
    const path = `${round}/systems/${hall.systemId}`;
    const bench = `/water/systems/${hall.systemId}/readings/new?back=${encodeURIComponent(path)}`;
    expect((await hand.get(path)).body).toContain('readings/new?back');
    expect((await hand.get(bench)).body).toContain(`name="back" value="${path}"`);
    const post = (back: string) =>
      hand.post(`/water/systems/${hall.systemId}/readings`, {
        alkalinity: '8.2',
        'alkalinity-sure': 'yes',
        back,
      });
    expect((await post(path)).location).toBe(path);
    expect((await hand.get(path)).body).toMatch(/Alkalinity 8\.2 dKH/);
    expect((await post('//example.org')).location).toContain('/water/systems/');
  });

  test('a refused feeding comes back as typed', async () => {
    const path = `${round}/systems/${hall.systemId}`;
    const page = (await hand.get(path)).body;
    const form = { ...formOfKind(page, 'feeding'), food: '', pumpsOffMin: '500' };
    const answer = await hand.post(entries(), form);
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('value="500"');
    expect(answer.body).toContain('Enter what was fed.');
  });

  test('before it ends it says which racks were not looked at; one can be left out with a reason', async () => {
    const before = (await hand.get(`${round}/end`)).body;
    expect(before).toContain('1 rack was not looked at');
    expect(before).not.toContain('was not tested');
    const form = { ...formOf(before, entries()), note: 'Lamp is being mended' };
    expect((await hand.post(entries(), form)).location).toBe(`${round}/end`);
    expect((await hand.get(`${round}/end`)).body).toContain('Lamp is being mended');
  });

  test('ended, it says who did what, and keeps its racks whatever becomes of them', async () => {
    const end = formOfKind((await hand.get(`${round}/end`)).body, 'finished');
    expect((await hand.post(entries(), end)).location).toBe(`${round}/end`);
    await bench.service.pool.query(`UPDATE rack SET name = 'Moved rack' WHERE id = $1`, [hall.window]);
    const { body } = await hand.get(`${round}/end`);
    expect(body).toContain('Nor Abell');
    expect(body).toContain('1 rack looked at, 1 note');
    expect(body).toContain('Window rack; tips only');
    expect((await hand.get(round)).location).toBe(`${round}/end`);
  });

  test('what a tablet still held is taken after the end, in its place', async () => {
    const id = round.split('/').at(-1);
    const late = { id: uuidv7(), kind: 'rack_well', rackId: hall.wall, at: '2026-11-24T08:20:00Z' };
    const answer = await hand.send(`/api/rounds/${id}/entries`, [late]);
    expect(answer.json()).toMatchObject({ entries: [{ outcome: 'taken' }] });
    expect((await hand.get(`${round}/end`)).body).toContain('Every rack was looked at');
  });

  test('forms lead nowhere but within the round', async () => {
    const form = { id: uuidv7(), kind: 'rack_well', rackId: hall.wall, next: 'https://example.org/' };
    expect((await hand.post(entries(), form)).location).toBe(round);
  });
});

describe('the round for a tablet', () => {
  let bench: Bench;
  let hall: Hall;
  let hand: Visitor;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hall = await makeHall(bench);
    hand = await bench.as('hand');
  });
  afterAll(() => bench.close());

  const json = { accept: 'application/json' };
  type Drawn = Pick<TabletRound, 'pages' | 'csrf' | 'person' | 'screens'> & { next: string | null };
  const read = async (path: string) => (await hand.get(path, json)).json() as Drawn;
  /** Every page of a round, and how many answers they took. */
  const readWhole = async (id: string) => {
    const answers = [await read(`/api/rounds/${id}`)];
    for (let next = answers[0]?.next; typeof next === 'string'; next = answers.at(-1)?.next)
      answers.push(await read(`/api/rounds/${id}?cursor=${next}`));
    const pages = Object.assign({}, ...answers.map((one) => one.pages)) as Drawn['pages'];
    return { pages, answers };
  };
  const screensOf = (id: string) => [
    `/rounds/${id}`,
    `/rounds/${id}/racks/${hall.window}`,
    `/rounds/${id}/racks/${hall.wall}`,
    `/rounds/${id}/systems/${hall.systemId}`,
    `/rounds/${id}/systems/${hall.systemId}/tests`,
    `/rounds/${id}/end`,
  ];

  test('holds every screen by its address, page by page, and the token that sending needs', async () => {
    const id = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
    const { pages, answers } = await readWhole(id);
    const [first] = answers;
    expect(Object.keys(pages)).toEqual(screensOf(id));
    expect(first?.screens?.map(({ path }) => path)).toEqual(screensOf(id));
    expect(pages[`/rounds/${id}/racks/${hall.wall}`]?.html).toContain(hall.lots.B1.code);
    expect(first?.csrf).not.toBe('');
    expect(first?.person.id).toBe(hand.id);
  });

  test('a rack of many lots comes by itself', async () => {
    const id = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
    const round = await findRound(bench.service.db, id);
    const sheet = await readSheet(bench.service.pool, round, zone, bench.service.now());
    const full = { ...sheet, racks: sheet.racks.map((rack) => ({ ...rack, lots: 500 })) };
    const lengths: number[] = [];
    for (let left = screenPlaces(full); left.length > 0; left = left.slice(oneAnswer(left).length))
      lengths.push(oneAnswer(left).length);
    expect(lengths).toEqual([1, 1, 1, 3]);
  });

  test('gives the screens that are asked for, and says by a mark which of them changed', async () => {
    const id = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
    const [, window = '', wall = ''] = screensOf(id);
    const drawn = await read(`/api/rounds/${id}?draw=${window}&draw=/rounds/elsewhere`);
    expect(Object.keys(drawn.pages)).toEqual([window]);
    const entry = { id: uuidv7(), kind: 'rack_well', rackId: hall.wall, at: '2026-11-24T08:20:00Z' };
    await hand.send(`/api/rounds/${id}/entries`, [entry]);
    const after = await read(`/api/rounds/${id}?draw=${wall}`);
    const marksOf = ({ screens = [] }: Drawn) => new Map(screens.map(({ path, mark }) => [path, mark]));
    const [then, now] = [marksOf(drawn), marksOf(after)];
    const changed = screensOf(id).filter((path) => then.get(path) !== now.get(path));
    expect(changed).toEqual([`/rounds/${id}`, wall, `/rounds/${id}/end`]);
    expect(after.pages[wall]?.html).toContain('Looked at:');
  });

  test('what is no cursor, one whose screen has gone, and too many screens at once are told so', async () => {
    const id = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
    const ask = (query: string) => hand.get(`/api/rounds/${id}?${query}`, json);
    const gone = Buffer.from(JSON.stringify('/rounds/gone')).toString('base64url');
    expect((await ask('cursor=none')).status).toBe(422);
    expect((await ask(`cursor=${gone}`)).status).toBe(409);
    const many = screensOf(id)
      .concat(screensOf(id))
      .map((path) => `draw=${path}`);
    const refused = await ask(many.join('&'));
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('at most 8 screens');
  });

  test('is not there for another site, nor for an unknown key', async () => {
    const apart = await makeHall(bench, { apart: true });
    const id = await begin(bench, apart, await planRound(bench, apart), '2026-11-24');
    expect((await hand.get(`/rounds/${id}`)).status).toBe(404);
    expect((await hand.get(`/api/rounds/${id}`, { accept: 'application/json' })).status).toBe(404);
    expect((await hand.get(`/rounds/${uuidv7()}`)).status).toBe(404);
    expect((await hand.get('/rounds/nowhere')).status).toBe(404);
  });
});
