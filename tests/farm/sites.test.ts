import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { fieldsOf } from '../support/forms.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// An owner opens a second place: adds it, says who belongs there, and goes from one to the other.

let bench: Bench;
let first: Hall;
let owner: Visitor;
let manager: Visitor;
let hand: Visitor;
let firstName: string;
/** The site that the owner adds. */
let second: string;

const harbour = { name: 'Harbour sheds', timeZone: 'America/Halifax', currency: 'CAD' };

beforeAll(async () => {
  bench = await startBench({ watching: false });
  first = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
  manager = await bench.as('manager', 'Tomas Brandt');
  hand = await bench.as('hand', 'Lea Moor');
  firstName = (await bench.service.db.site.findUniqueOrThrow({ where: { id: first.siteId } })).name;
  const added = await owner.post('/sites', harbour);
  expect(added.status, added.body).toBe(303);
  second = (await bench.service.db.site.findUniqueOrThrow({ where: { name: harbour.name } })).id;
});
afterAll(() => bench.close());

const siteOf = async (visitor: Visitor) =>
  /<div class="spine-name">.*?class="small"[^>]*>([^<]*)</.exec((await visitor.get('/')).body)?.[1];

const lookAt = (visitor: Visitor, id: string) => visitor.post(`/sites/${id}/look`, {});

const belong = (accountId: string, roles: Record<string, string>) =>
  owner.post(
    `/people/${accountId}/sites`,
    Object.fromEntries(Object.entries(roles).map(([id, role]) => [`site-${id}`, role])),
  );

describe('adding a site', () => {
  test('keeps its name, zone and currency, and brings the owner there', async () => {
    expect(await siteOf(owner)).toBe(harbour.name);
    const { body } = await owner.get('/farm');
    expect(body).toContain('America/Halifax');
    expect(body).toContain('CAD');
    expect(body).toContain('No systems yet.');
  });

  test('lets nobody else in: who worked here belongs to the place there was', async () => {
    for (const visitor of [manager, hand]) {
      expect(await siteOf(visitor)).toBe(firstName);
      expect((await visitor.get('/sites')).body).not.toContain(harbour.name);
      expect((await lookAt(visitor, second)).status).toBe(404);
      expect(await siteOf(visitor)).toBe(firstName);
    }
  });

  test('is the owner’s alone, refuses a name that is taken and a zone that is none, and keeps what was typed', async () => {
    expect((await manager.post('/sites', { ...harbour, name: 'Mine' })).status).toBe(403);
    const taken = await owner.post('/sites', harbour);
    expect(taken.status).toBe(409);
    expect(taken.body).toContain('already a site of this name');
    expect(taken.body).toContain('value="Harbour sheds"');
    const nowhere = await owner.post('/sites', { ...harbour, name: 'Third', timeZone: 'Mars/Base' });
    expect(nowhere.status).toBe(422);
    expect(nowhere.body).toContain('value="Third"');
  });
});

describe('people of several sites', () => {
  test('go from one to the other in two taps, as what they are there', async () => {
    const set = await belong(manager.id, { [first.siteId]: 'manager', [second]: 'reader' });
    expect(set.status, set.body).toBe(303);
    expect((await manager.get('/')).body).toContain('href="/sites"');
    expect((await manager.get('/sites')).body).toContain(`action="/sites/${second}/look"`);
    expect((await lookAt(manager, second)).location).toBe('/');
    expect(await siteOf(manager)).toBe(harbour.name);
    // A reader there, a manager here.
    expect((await manager.post('/rounds/plans', {})).body).toContain('change nothing');
    await lookAt(manager, first.siteId);
    expect((await manager.post('/rounds/plans', {})).status).toBe(422);
  });

  test('see at one site nothing of the other', async () => {
    await lookAt(owner, second);
    expect((await owner.get(`/stock/${first.lots.A1.code}`)).status).toBe(404);
    expect((await owner.get(`/water/systems/${first.systemId}`)).status).toBe(404);
    await lookAt(owner, first.siteId);
    expect((await owner.get(`/stock/${first.lots.A1.code}`)).status).toBe(200);
  });

  test('who is taken off a site is at another at the next page', async () => {
    await belong(hand.id, { [first.siteId]: 'hand', [second]: 'hand' });
    await lookAt(hand, second);
    expect(await siteOf(hand)).toBe(harbour.name);
    await belong(hand.id, { [first.siteId]: 'hand', [second]: '' });
    expect(await siteOf(hand)).toBe(firstName);
  });

  test('belong somewhere, and nobody with a PIN alone becomes a manager', async () => {
    const nowhere = await belong(hand.id, { [first.siteId]: '', [second]: '' });
    expect(nowhere.status).toBe(422);
    expect(nowhere.body).toContain('Choose at least one site');
    const pia = await owner.post('/people', {
      name: 'Pia',
      email: '',
      role: 'hand',
      password: '',
      pin: '7391',
    });
    expect(pia.status).toBe(303);
    const { id } = await bench.service.db.account.findFirstOrThrow({ where: { name: 'Pia' } });
    const refused = await belong(id, { [second]: 'manager' });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('can only be a hand or a reader');
  });

  test('somebody new belongs to the site at which the owner adds them', async () => {
    await lookAt(owner, second);
    const form = {
      name: 'Noor',
      email: 'noor@example.org',
      role: 'hand',
      password: 'three green lamps',
      pin: '',
    };
    await owner.post('/people', form);
    const rows = await bench.service.db.sitePerson.findMany({ where: { account: { name: 'Noor' } } });
    expect(rows).toEqual([expect.objectContaining({ siteId: second, role: 'hand' })]);
    await lookAt(owner, first.siteId);
  });
});

test('work is given to who works at the site: to no reader, and to nobody of another site', async () => {
  const reader = await bench.as('reader', 'Vera Kant');
  const noor = await bench.service.db.account.findFirstOrThrow({ where: { name: 'Noor' } });
  const at = bench.service.now();
  const inHours = (hours: number) => new Date(at.getTime() + hours * 3_600_000);
  const off = await bench.service.db.switchedOff.create({
    data: {
      ...{ systemId: first.systemId, thing: 'return_pump' as const, what: 'Return pump', why: 'Cleaning' },
      ...{ offAt: at, dueAt: inHours(1), lateAt: inHours(2), accountId: owner.id, keeperId: owner.id },
    },
  });
  for (const path of ['/farm/switched-off', '/rounds/plans/new']) {
    const { body } = await owner.get(path);
    expect(body).toContain('>Lea Moor</option>');
    expect(body).not.toContain('Noor');
    expect(body).not.toContain('Vera Kant');
  }
  for (const id of [reader.id, noor.id]) {
    const sent = await owner.post(`/farm/switched-off/${off.id}/offer`, { toId: id });
    expect([sent.status, sent.body]).toEqual([
      422,
      expect.stringContaining('somebody who works at this site'),
    ]);
  }
  expect((await owner.post(`/farm/switched-off/${off.id}/offer`, { toId: hand.id })).status).toBe(303);
});

test('a form that was drawn at one site is not taken at another', async () => {
  await lookAt(owner, first.siteId);
  const page = await owner.get('/farm/systems/new');
  const _site = /name="_site" value="([^"]+)"/.exec(page.body)?.[1];
  expect(_site).toBe(first.siteId);
  await lookAt(owner, second);
  const before = await bench.service.db.system.count();
  const answer = await owner.post('/farm/systems', { _site, name: 'Deep', volumeL: 900, note: '' });
  expect(answer.status).toBe(409);
  expect(answer.body).toContain('belongs to another site');
  expect(await bench.service.db.system.count()).toBe(before);
  await lookAt(owner, first.siteId);
});

describe('somebody whose sign-in ends', () => {
  const password = 'a long enough password';
  const emailOf = async ({ id }: Visitor) =>
    (await bench.service.db.account.findUniqueOrThrow({ where: { id } })).email ?? '';

  test('and who signs in again on the same device is at the same site', async () => {
    await lookAt(owner, second);
    await owner.post('/sign-in', { email: await emailOf(owner), password, to: '' });
    expect(await siteOf(owner)).toBe(harbour.name);
    await lookAt(owner, first.siteId);
  });

  test('gets what was typed back at the site it was typed at', async () => {
    await lookAt(owner, second);
    const page = await owner.get('/farm/systems/new');
    const email = await emailOf(owner);
    await bench.service.db.session.deleteMany({ where: { accountId: owner.id } });
    const sent = await owner.post('/farm/systems', {
      ...fieldsOf(page.body, '/farm/systems'),
      _csrf: /name="_csrf" value="([^"]+)"/.exec(page.body)?.[1] ?? '',
      ...{ name: 'Deep', volumeL: '900' },
    });
    const to = new URL(sent.location ?? '', 'http://here').searchParams.get('to') ?? '';
    let shown = await owner.get((await owner.post('/sign-in', { email, password, to })).location ?? '');
    if (shown.location !== undefined) shown = await owner.get(shown.location);
    expect(shown.body).toContain('Look through what you typed before');
    expect(fieldsOf(shown.body, '/farm/systems')).toMatchObject({ name: ['Deep'], _site: [second] });
    await lookAt(owner, first.siteId);
  });
});

test('an access key posts to the site it was made at', async () => {
  await lookAt(owner, second);
  const made = await owner.post('/people/keys', { name: 'Doser' });
  const key = /<code class="key-text">(ew_[\w-]{43})<\/code>/.exec(made.body)?.[1] ?? '';
  await lookAt(owner, first.siteId);
  const headers = { authorization: `Bearer ${key}`, 'idempotency-key': randomUUID() };
  const payload = { system: first.systemId, quantity: 'temperature', value: 25, unit: 'degC' };
  const answer = await bench.app.inject({ method: 'POST', url: '/api/readings', headers, payload });
  expect(answer.statusCode).toBe(422);
  expect(answer.body).toContain('not at this site');
});

test('alerts are counted at the site they are of', async () => {
  const at = bench.service.now();
  await bench.service.db.alert.create({
    data: {
      ...{ rule: 'out-of-band', severity: 'now', worst: 1, openedAt: at, evaluatedAt: at },
      ...{
        systemId: first.systemId,
        subjectType: 'system',
        subjectId: first.systemId,
        title: 'x',
        finding: {},
      },
    },
  });
  await lookAt(owner, first.siteId);
  expect((await owner.get('/people')).body).toContain('to act on now');
  await lookAt(owner, second);
  expect((await owner.get('/people')).body).not.toContain('to act on now');
  await lookAt(owner, first.siteId);
});
