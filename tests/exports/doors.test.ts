import { randomUUID } from 'node:crypto';
import { Readable } from 'node:stream';
import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { leftOut } from '../../src/exports/doors/left-out.ts';
import { routeWords } from '../../src/exports/doors/route-words.ts';
import { allLists } from '../../src/exports/lists/lists.ts';
import { routeAccess } from '../../src/route-access.ts';
import { survey, turn } from '../farm/ground.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { dueCalendar } from './due-calendar.ts';
import { generatedClient } from './generated-client.ts';
import { webhooks } from './webhooks.ts';

interface OpenApiValidator {
  validate(document: object): Promise<{ valid: boolean; errors?: unknown }>;
}

let bench: Bench;
let hall: Hall;
let owner: Visitor;

beforeAll(async () => {
  // The receivers of webhooks are on this machine.
  bench = await startBench({ watching: false, settings: { WEBHOOK_NETWORKS: '127.0.0.0/8' } });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
});
afterAll(() => bench.close());

async function makeKey(name: string, scopes: string[], more: Record<string, string> = {}): Promise<string> {
  const { body } = await owner.post('/people/keys', { name, scopes, ...more });
  return /<code class="key-text">(ew_[\w-]{43})<\/code>/.exec(body)?.[1] ?? body;
}

interface Asked {
  method?: 'GET' | 'POST' | 'PUT';
  body?: object;
  headers?: Record<string, string>;
  once?: string;
}

/** A program's request under the door. */
async function ask(
  key: string,
  path: string,
  { method, body, headers = {}, once = randomUUID() }: Asked = {},
) {
  const answer = await bench.app.inject({
    method: method ?? (body === undefined ? 'GET' : 'POST'),
    url: `/api/v1${path}`,
    headers: {
      authorization: `Bearer ${key}`,
      ...(body === undefined ? {} : { 'idempotency-key': once }),
      ...headers,
    },
    ...(body === undefined ? {} : { payload: body }),
  });
  return {
    status: answer.statusCode,
    headers: answer.headers,
    text: answer.body,
    json: (answer.body.startsWith('{') ? answer.json() : {}) as Record<string, unknown>,
  };
}

/** Lamps over the window rack, and its light surveyed. */
async function lightOverWindow(): Promise<{ lampId: string }> {
  const { db } = bench.service;
  const { id: lampId } = await db.lamp.create({
    data: { tankId: hall.tankId, name: 'Lamps', litHours: 10, rampHours: 0 },
  });
  await turn(bench, lampId, '2026-10-01T08:00:00Z', 50);
  const rack = await db.rack.update({
    where: { id: hall.window },
    data: { lampId },
    include: { slots: true },
  });
  const slots = Object.fromEntries(rack.slots.map(({ row, column, id }) => [`${row}-${column}`, id]));
  await survey(bench, { rackId: rack.id, slots }, '2026-10-02T08:00:00Z', 50, 120);
  return { lampId };
}

const tankOf = (name: string) => ({ name, lengthMm: 120, widthMm: 60, heightMm: 50 });

describe('a form under /api/v1', () => {
  let key: string;
  beforeAll(async () => {
    key = await makeKey('Planner', ['read', 'farm', 'stock', 'work']);
  });

  test('takes the fields of the page as JSON, and says what was made', async () => {
    const made = await ask(key, `/farm/systems/${hall.systemId}/tanks`, { body: tankOf('By program') });
    expect(made).toMatchObject({ status: 201, json: { page: '/farm', notice: 'By program is added.' } });
    const tank = await bench.service.db.tank.findFirstOrThrow({ where: { name: 'By program' } });
    expect(made.json.id).toBe(tank.id);
    expect(tank).toMatchObject({ lengthMm: 1200, heightMm: 500 });
  });

  test('is refused with every field that is wrong, as problem details', async () => {
    const refused = await ask(key, `/farm/systems/${hall.systemId}/tanks`, { body: { lengthMm: -3 } });
    expect(refused.status).toBe(422);
    expect(refused.headers['content-type']).toContain('application/problem+json');
    expect(refused.json.instance).toBe(`/api/v1/farm/systems/${hall.systemId}/tanks`);
    const fields = (refused.json.errors as { field: string }[]).map(({ field }) => field);
    expect(fields).toEqual(expect.arrayContaining(['name', 'lengthMm', 'widthMm', 'heightMm']));
  });

  test('is read before it is changed, and a change goes over nobody else’s (RFC 9110, 13.1.1; RFC 6585, 3)', async () => {
    const path = `/farm/tanks/${hall.tankId}`;
    const read = await ask(key, path);
    expect(read).toMatchObject({ status: 200, json: { version: expect.any(Number), seen: null } });
    const { etag } = read.headers as { etag: string };
    expect(etag).toMatch(/^"[\w-]{27}\.[0-9a-z]+"$/);
    expect((await ask(key, path, { headers: { 'if-none-match': etag } })).status).toBe(304);

    const values = read.json.values as Record<string, string>;
    const changed = { ...values, note: 'by a program' };
    expect((await ask(key, path, { body: changed })).status).toBe(428);
    expect((await ask(key, path, { body: changed, headers: { 'if-match': '"other"' } })).status).toBe(412);
    const once = randomUUID();
    const sent = { body: changed, headers: { 'if-match': etag }, once };
    expect((await ask(key, path, sent)).status).toBe(200);
    // A repeat is answered as before, though the tag is old by now; another change with it is not made.
    const repeated = await ask(key, path, sent);
    expect(repeated.status).toBe(200);
    expect(repeated.headers['idempotency-replayed']).toBe('true');
    expect((await ask(key, path, { ...sent, once: randomUUID() })).status).toBe(412);
    const now = await ask(key, path);
    expect(now.json.values).toMatchObject({ note: 'by a program', name: values.name });
    expect(now.json.version).toBe(Number(read.json.version) + 1);
  });

  test('is held to what was read, and not to the time that has gone by since', async () => {
    const { db } = bench.service;
    const { lampId } = await lightOverWindow();
    await turn(bench, lampId, '2026-11-20T08:00:00Z', 90);
    const { id, code } = hall.lots.A1;
    const readAt = async (seconds: number) => {
      bench.at(new Date(benchNow.getTime() + 1000 * seconds));
      return ask(key, `/lots/${code}`);
    };
    const first = await readAt(0);
    const later = await readAt(300);
    // The light that it is used to goes on with the clock, though nobody changed anything.
    expect(later.json.light).not.toEqual(first.json.light);
    const { etag } = first.headers as { etag: string };
    const look = (state: string) =>
      ask(key, `/lots/${id}/conditions`, {
        body: { state, at: '2026-11-24T07:55', note: '' },
        headers: { 'if-match': etag },
      });
    const taken = await look('well');
    expect([taken.status, await db.condition.count({ where: { lotId: id } })], taken.text).toEqual([201, 1]);
    expect((await look('paling')).status).toBe(412);
    expect((await readAt(300)).headers.etag).not.toBe(later.headers.etag);
    bench.at(benchNow);
  });

  test('is done once under an Idempotency-Key, and refuses the key for anything else', async () => {
    const once = randomUUID();
    const path = `/farm/systems/${hall.systemId}/tanks`;
    const both = await Promise.all([
      ask(key, path, { body: tankOf('Once'), once }),
      ask(key, path, { body: tankOf('Once'), once }),
    ]);
    const later = await ask(key, path, { body: tankOf('Once'), once });
    expect(new Set([...both, later].map(({ status, text }) => `${status} ${text}`)).size).toBe(1);
    expect(await bench.service.db.tank.count({ where: { name: 'Once' } })).toBe(1);
    expect((await ask(key, path, { body: tankOf('Twice'), once })).status).toBe(422);
    const none = await bench.app.inject({
      ...{ method: 'POST', url: `/api/v1${path}`, payload: tankOf('None') },
      headers: { authorization: `Bearer ${key}` },
    });
    expect(none.statusCode).toBe(400);
  });

  test('stands in the journal under the name of the key', async () => {
    const manager = await bench.as('manager');
    const { body } = await manager.get('/journal');
    expect(body).toContain('Planner');
  });

  test('leaves pages for people alone, and the old addresses as they were', async () => {
    expect((await ask(key, '/watch')).status).toBe(404);
    expect((await ask(key, '/sign-in', { body: {} })).status).toBe(403);
    expect((await ask(key, '/nothing-of-the-kind')).status).toBe(404);
    const lots = await ask(key, '/lots');
    expect(lots.status).toBe(200);
    expect((await owner.get('/api/lots')).json()).toEqual(lots.json);
  });
});

describe('an access key', () => {
  test('opens what its scopes say, and nothing else', async () => {
    const reads = await makeKey('Dashboard', ['read']);
    expect((await ask(reads, '/alerts')).status).toBe(200);
    const kept = await ask(reads, `/farm/systems/${hall.systemId}/tanks`, { body: tankOf('No') });
    expect(kept).toMatchObject({ status: 403, json: { detail: expect.stringContaining('“farm”') } });
    for (const path of ['/people', '/backups', '/people/keys'])
      expect((await ask(reads, path)).status, path).toBe(403);
    const farm = await makeKey('Builder', ['farm']);
    expect((await ask(farm, '/alerts')).status).toBe(403);
    expect((await ask(farm, '/people', { body: {} })).status).toBe(403);
  });

  test('never opens what the person who made it may not', async () => {
    const other = await bench.as('owner', 'Odo Brandt');
    const { body } = await other.post('/people/keys', { name: 'Odo', scopes: ['read', 'farm', 'readings'] });
    const key = /(ew_[\w-]{43})<\/code>/.exec(body)?.[1] ?? '';
    const add = () => ask(key, `/farm/systems/${hall.systemId}/tanks`, { body: tankOf(randomUUID()) });
    expect((await add()).status).toBe(201);
    const { account } = bench.service.db;
    await account.update({ where: { id: other.id }, data: { role: 'hand' } });
    expect((await add()).status).toBe(403);
    expect((await ask(key, '/alerts')).status).toBe(200);
    await account.update({ where: { id: other.id }, data: { disabledAt: new Date() } });
    expect((await ask(key, '/alerts')).status).toBe(403);
    expect((await ask(key, '/readings', { body: {} })).status).toBe(403);
  });

  test('runs out, and is listed as such', async () => {
    const key = await makeKey('Visitor', ['read'], { days: '2' });
    expect((await ask(key, '/alerts')).status).toBe(200);
    bench.at('2026-11-26T09:00:00Z');
    expect((await ask(key, '/alerts')).status).toBe(401);
    expect((await owner.get('/people/keys')).body).toMatch(/ran out/);
    bench.at('2026-11-24T08:00:00Z');
  });

  test('asks so often a minute and no more, and is told when to go on', async () => {
    const key = await makeKey('Wild', ['read'], { perMinute: '3' });
    const all = [];
    for (let i = 0; i < 4; i += 1) all.push(await ask(key, '/alerts'));
    expect(all.map(({ status }) => status)).toEqual([200, 200, 200, 429]);
    expect(all[1]?.headers).toMatchObject({
      ratelimit: '"minute";r=1;t=60',
      'ratelimit-policy': '"minute";q=3;w=60',
    });
    expect(all[3]?.headers['retry-after']).toBe('60');
    bench.at('2026-11-24T08:01:00Z');
    expect((await ask(key, '/alerts')).status).toBe(200);
    bench.at('2026-11-24T08:00:00Z');
  });
});

describe('what a key or a browser sends that it should not', () => {
  const scopes = ['readings', 'read', 'work', 'stock', 'sales', 'farm'];
  interface Raw {
    method: 'GET' | 'POST' | 'PUT' | 'HEAD';
    url: string;
    headers: Record<string, string>;
    payload?: string | object;
  }
  const send = async (asked: Raw) => {
    const { statusCode, headers, body } = await bench.app.inject(asked);
    return { status: statusCode, headers, text: body };
  };
  const bearer = (key: string, more: Record<string, string> = {}) => ({
    authorization: `Bearer ${key}`,
    'idempotency-key': randomUUID(),
    ...more,
  });
  const keys = new Map<string, string>();
  beforeAll(async () => {
    for (const scope of scopes) keys.set(scope, await makeKey(`Only ${scope}`, [scope]));
    keys.set('all', await makeKey('Everything', scopes));
  });
  const keyOf = (name: string) => keys.get(name) ?? '';
  const tanks = () => `/farm/systems/${hall.systemId}/tanks`;
  const form = { 'content-type': 'application/x-www-form-urlencoded' };

  test('a key of each scope is kept from the routes of all others, as JSON and as a form', async () => {
    const lot = hall.lots.A1.id;
    const wanted: Record<string, string[]> = {
      readings: ['POST /readings', 'POST /doses'],
      read: ['GET /alerts', 'GET /lists/stock', `GET /farm/tanks/${hall.tankId}`],
      work: [`POST /water/systems/${hall.systemId}/doses`, 'POST /emergencies', 'POST /water/kits'],
      stock: [`POST /lots/${lot}/details`, 'POST /kinds', `POST /lots/${lot}/placements`],
      sales: [`POST /lots/${lot}/sales`, `POST /lots/${lot}/holds`, 'POST /tags', 'POST /stock/orders'],
      farm: [`POST ${tanks()}`, 'POST /farm/systems', 'POST /light-surveys'],
    };
    const wrong: string[] = [];
    for (const [scope, routes] of Object.entries(wanted))
      for (const route of routes)
        for (const sent of scopes)
          for (const type of ['application/json', form['content-type']]) {
            const [method = '', path = ''] = route.split(' ');
            const payload = method === 'GET' ? {} : { payload: type === 'application/json' ? '{}' : 'name=' };
            const { status } = await send({
              ...{ method: method as 'GET', url: `/api/v1${path}`, ...payload },
              headers: bearer(keyOf(sent), method === 'GET' ? {} : { 'content-type': type }),
            });
            if ((status !== 403) !== (sent === scope)) wrong.push(`${route} with ${sent}: ${status}`);
          }
    expect(wrong).toEqual([]);
  });

  test('no key reaches accounts, keys, backups and the whole farm, however the address is written', async () => {
    const id = randomUUID();
    const closed = [
      ...['GET /people', 'HEAD /people', 'POST /people', 'GET /people/', 'GET //people', 'GET /%70eople'],
      ...[
        'GET /people/keys',
        'POST /people/keys',
        `POST /people/keys/${id}/end`,
        'GET /account',
        'POST /account/password',
      ],
      ...[
        'GET /backups',
        'POST /backups',
        'GET /export/farm.zip',
        'GET /export/people.csv',
        'GET /farm/bring-in',
      ],
      ...[
        'POST /sign-in',
        'POST /welcome',
        'GET /sign-in',
        `GET /kept/${id}`,
        `POST /undo/${id}`,
        'POST /sites',
      ],
      ...[
        `POST /sites/${id}/look`,
        'GET /api/v1/people',
        'GET /../people',
        'GET /people?x=/alerts',
        'PUT /people',
      ],
      ...['DELETE /people', 'GET /t/key', 'GET /metrics', 'GET /health', 'GET /assets/x'],
    ];
    const wrong: string[] = [];
    for (const at of ['/api/v1', ''])
      for (const one of closed) {
        const [method = '', path = ''] = one.split(' ');
        // Buyers, probes of the service and the first pages are open to anybody there.
        if (at === '' && /\/(t|metrics|health|assets|api)/.test(path)) continue;
        const url = `${at}${path}`;
        const writes = ['POST', 'PUT'].includes(method) ? { payload: {} } : {};
        const { status, headers } = await send({
          ...{ method: method as 'GET', url, ...writes },
          headers: bearer(keyOf('all')),
        });
        if (![403, 404].includes(status) || headers['set-cookie'] !== undefined)
          wrong.push(`${method} ${url}: ${status}`);
      }
    expect(wrong).toEqual([]);
  });

  test('a key opens no page, writes at none, and leaves no session', async () => {
    for (const url of ['/', '/stock', tanks(), '/export/stock.csv']) {
      const read = await send({ method: 'GET', url, headers: bearer(keyOf('all')) });
      expect([403, 404], url).toContain(read.status);
      expect(read.headers['set-cookie'], url).toBeUndefined();
    }
    const written = await send({
      ...{ method: 'POST', url: tanks(), payload: 'name=By+page&lengthMm=90&widthMm=60&heightMm=50' },
      headers: bearer(keyOf('all'), form),
    });
    expect(written.status).toBe(403);
    expect(await bench.service.db.tank.count({ where: { name: 'By page' } })).toBe(0);
  });

  test('a HEAD is held as its GET is, and bodies of other types are refused', async () => {
    const head = (name: string, path: string) =>
      send({ method: 'HEAD', url: `/api/v1${path}`, headers: bearer(keyOf(name)) });
    expect(await head('read', '/alerts')).toMatchObject({ status: 200, text: '' });
    expect((await head('farm', '/alerts')).status).toBe(403);
    const types = [
      'text/plain',
      'application/xml',
      'application/octet-stream',
      'multipart/form-data; boundary=x',
    ];
    for (const type of [...types, 'application/problem+xml', 'text/plain; application/json']) {
      const payload = JSON.stringify(tankOf(`As ${type}`));
      const headers = bearer(keyOf('farm'), { 'content-type': type });
      const { status, headers: answered } = await send({
        method: 'POST',
        url: `/api/v1${tanks()}`,
        payload,
        headers,
      });
      expect(status, type).toBe(415);
      expect(answered['content-type'], type).toContain('application/problem+json');
    }
    for (const payload of [
      '{',
      '[]',
      '"text"',
      '7',
      'null',
      '{"name":{"$ne":""}}',
      '{"__proto__":{"name":"x"}}',
    ]) {
      const headers = bearer(keyOf('farm'), { 'content-type': 'application/json' });
      const { status } = await send({ method: 'POST', url: `/api/v1${tanks()}`, payload, headers });
      expect([400, 422], payload).toContain(status);
    }
    expect(await bench.service.db.tank.count({ where: { name: { startsWith: 'As ' } } })).toBe(0);
  });

  test('a photo is put by a key of the stock alone', async () => {
    for (const name of ['read', 'farm', 'sales']) {
      const headers = bearer(keyOf(name), { 'content-type': 'image/jpeg' });
      const url = `/api/v1/photos/${randomUUID()}`;
      const { status } = await send({ method: 'PUT', url, payload: Buffer.from('x'), headers });
      expect(status, name).toBe(403);
    }
  });

  test('a browser that is led there by another page changes nothing: its cookie is not enough', async () => {
    const count = () => bench.service.db.tank.count();
    const before = await count();
    const fields = 'name=Forged&lengthMm=90&widthMm=60&heightMm=50';
    const signedIn = (await owner.get(`/api/v1${tanks().replace('/tanks', '')}`)).status;
    expect(signedIn).toBeLessThan(500);
    const bodies = [
      ['application/json', JSON.stringify(tankOf('Forged'))],
      ['application/x-www-form-urlencoded', fields],
      ['text/plain', JSON.stringify(tankOf('Forged'))],
      ['multipart/form-data; boundary=x', '--x--'],
    ] as const;
    for (const [type, payload] of bodies)
      for (const more of [{}, { authorization: 'Basic eDp5' }, { authorization: 'Bearer' }]) {
        const headers = {
          'content-type': type,
          'x-csrf-token': '',
          'idempotency-key': randomUUID(),
          ...more,
        };
        const answer = await owner.stream(`/api/v1${tanks()}`, Readable.from([payload]), headers);
        expect([401, 403, 415], `${type} ${answer.body}`).toContain(answer.status);
      }
    expect(await count()).toBe(before);
    expect((await owner.send(`/api/v1${tanks()}`, tankOf('With its token'))).status).toBe(201);
  });

  test('a key ended, unknown or cut is nobody, and a repeat under it is not answered', async () => {
    const ended = await makeKey('To be ended', ['farm']);
    const once = randomUUID();
    const sent = { body: tankOf('Before its end'), once };
    expect((await ask(ended, tanks(), sent)).status).toBe(201);
    const { id } = await bench.service.db.accessKey.findFirstOrThrow({ where: { name: 'To be ended' } });
    await owner.post(`/people/keys/${id}/end`, {});
    for (const key of [ended, ended.slice(0, -1), `${ended}x`, ended.toUpperCase(), 'ew_', "' OR 1=1"]) {
      const answer = await ask(key, tanks(), sent);
      expect([401, 429], key).toContain(answer.status);
      expect(answer.text).not.toContain('Before its end');
    }
  });

  test('an Idempotency-Key of another key or person is refused, and its answer told to nobody else', async () => {
    const once = randomUUID();
    const body = tankOf('Of one key');
    const first = await ask(keyOf('farm'), tanks(), { body, once });
    expect(first.status).toBe(201);
    const second = await ask(keyOf('all'), tanks(), { body, once });
    expect(second.status).toBe(422);
    expect(second.text).not.toContain(String(first.json.id));
    const person = await owner.send(`/api/v1${tanks()}`, body, { 'idempotency-key': once });
    expect(person.status).toBe(422);
    expect((await ask(keyOf('farm'), `${tanks()}?x=1`, { body, once })).status).toBe(422);
    for (const wrong of ['', 'no-uuid', `${once},${once}`])
      expect((await ask(keyOf('farm'), tanks(), { body, once: wrong })).status, wrong).toBe(400);
    expect(await bench.service.db.tank.count({ where: { name: 'Of one key' } })).toBe(1);
  });

  test('things of another site are not there for a key, in the address or in what is sent', async () => {
    const apart = await makeHall(bench, { apart: true });
    const tank = `/farm/tanks/${apart.tankId}`;
    expect((await ask(keyOf('all'), tank)).status).toBe(404);
    expect(
      (await ask(keyOf('all'), `/farm/systems/${apart.systemId}/tanks`, { body: tankOf('Over there') }))
        .status,
    ).toBe(404);
    expect((await ask(keyOf('all'), `/lots/${apart.lots.A1.code}`)).status).toBe(404);
    const placed = await ask(keyOf('all'), `/lots/${hall.lots.A1.id}/holds`, {
      body: { pieces: 1, lotId: apart.lots.A1.id },
    });
    expect(placed.status).toBe(422);
    expect(await bench.service.db.tank.count({ where: { name: 'Over there' } })).toBe(0);
  });
});

describe('a list under /api/v1', () => {
  type Row = Record<string, string | number | null>;
  interface Page {
    rows: Row[];
    next: string | null;
  }
  const inText = (row: Row) => JSON.stringify(Object.values(row).map((cell) => String(cell ?? '')));
  /** All pages of a list, by its cursors. */
  async function walk(key: string, slug: string, limit: number): Promise<Row[]> {
    const rows: Row[] = [];
    for (let next: string | null = ''; next !== null; ) {
      const answer = await ask(key, `/lists/${slug}?limit=${limit}${next === '' ? '' : `&cursor=${next}`}`);
      expect(answer.status, `${slug} ${answer.text}`).toBe(200);
      const page = answer.json as unknown as Page;
      expect(page.rows.length).toBeLessThanOrEqual(limit);
      rows.push(...page.rows);
      next = page.next;
    }
    return rows;
  }
  let key: string;
  beforeAll(async () => {
    key = await makeKey('Sheet', ['read']);
    const { db } = bench.service;
    for (const name of ['Tank 5', 'Tank 5 old', 'Tank 6'])
      await db.tank.create({
        data: { systemId: hall.systemId, name, lengthMm: 900, widthMm: 600, heightMm: 400 },
      });
    for (const hour of ['06', '07', '07'])
      await db.feeding.create({
        data: {
          ...{ systemId: hall.systemId, accountId: owner.id, food: 'Plankton', amountG: 3 },
          at: new Date(`2026-11-24T${hour}:00:00Z`),
        },
      });
  });

  test('has the rows and columns of its CSV file, each once, however small the pages are', async () => {
    const document = (await bench.app.inject('/api/v1/openapi.json')).json() as {
      paths: Record<
        string,
        { get: { responses: Record<string, { content: Record<string, { schema: object }> }> } }
      >;
    };
    const open = allLists.filter(({ closedToKeys }) => closedToKeys !== true);
    expect(open.length).toBeGreaterThan(30);
    let longest = 0;
    for (const { slug } of open) {
      const csv = (await ask(key, `/export/${slug}.csv`)).text;
      const written = parse(csv, { columns: true }) as Record<string, string>[];
      const [head = []] = parse(csv, { to_line: 1 }) as string[][];
      // Much is there once for every farm: the care library, slots.
      const rows = await walk(key, slug, written.length > 20 ? 50 : 2);
      longest = Math.max(longest, rows.length);
      expect(rows.length, slug).toBe(written.length);
      const schema = document.paths[`/api/v1/lists/${slug}`]?.get.responses[200]?.content['application/json']
        ?.schema as {
        properties: {
          rows: {
            items: { required: string[]; properties: Record<string, { type: string[]; format?: string }> };
          };
        };
      };
      const { required, properties } = schema.properties.rows.items;
      // Units of the site stand in the file alone; a price has its currency beside it.
      const shared = required.filter((name) => head.includes(name));
      expect(
        required.filter((name) => !head.includes(name) && name !== 'currency'),
        slug,
      ).toEqual([]);
      const only = (row: Row) => Object.fromEntries(shared.map((name) => [name, row[name] ?? null]));
      expect(rows.map((row) => inText(only(row))).sort(), slug).toEqual(
        written.map((row) => inText(only(row))).sort(),
      );
      for (const row of rows) {
        expect(Object.keys(row), slug).toEqual(required);
        for (const [name, cell] of Object.entries(row)) {
          const type = cell === null ? 'null' : typeof cell;
          expect(properties[name]?.type, `${slug} ${name} ${cell}`).toContain(type);
          if (properties[name]?.format === 'date-time' && cell !== null)
            expect(String(cell), `${slug} ${name}`).toMatch(/^\d{4}-\d\d-\d\dT.*[+-]\d\d:\d\d$/);
        }
      }
    }
    expect(longest).toBeGreaterThan(100);
  });

  test('neither repeats nor hides a row when others come and go between its pages', async () => {
    const { db } = bench.service;
    const first = (await ask(key, '/lists/tanks?limit=2')).json as unknown as Page;
    const gone = first.rows.at(-1)?.tank as string;
    const before = (await walk(key, 'tanks', 500)).map(({ tank }) => tank);
    await db.tank.create({
      data: {
        systemId: hall.systemId,
        name: 'A new one',
        position: -1,
        lengthMm: 900,
        widthMm: 600,
        heightMm: 400,
      },
    });
    // The very row behind which the next page begins.
    const { id } = await db.tank.findFirstOrThrow({ where: { name: gone } });
    await db.tank.update({ where: { id }, data: { note: 'written meanwhile' } });
    const rest = (await ask(key, `/lists/tanks?limit=500&cursor=${first.next}`)).json as unknown as Page;
    expect([...first.rows, ...rest.rows].map(({ tank }) => tank)).toEqual(before);
  });

  test('goes on behind an entry of a log, a reading or a lot that was written over, removed or sold meanwhile', async () => {
    const { db } = bench.service;
    const at = (hour: number) => new Date(Date.UTC(2026, 10, 23, hour));
    const foods = ['one', 'two', 'three', 'four'];
    for (const [i, food] of foods.entries())
      await db.feeding.create({
        data: { systemId: hall.systemId, accountId: owner.id, food, amountG: 1, at: at(i) },
      });
    const first = (await ask(key, '/lists/feedings?limit=2')).json as unknown as Page;
    expect(first.rows.map(({ food }) => food)).toEqual(['one', 'two']);
    await db.feeding.deleteMany({ where: { food: 'two' } });
    await db.feeding.create({
      data: { systemId: hall.systemId, accountId: owner.id, food: 'earlier', amountG: 1, at: at(-3) },
    });
    const rest = (await ask(key, `/lists/feedings?limit=500&cursor=${first.next}`)).json as unknown as Page;
    expect(rest.rows.slice(0, 2).map(({ food }) => food)).toEqual(['three', 'four']);
    await db.feeding.deleteMany({ where: { food: { in: [...foods, 'earlier'] } } });
  });

  test('costs a page the same number of queries, however many rows it has and however far in it lies', async () => {
    const counted = async (slug: string, limit: number) => {
      const asked = vi.spyOn(bench.service.pool, 'query');
      // Jobs ask besides, in their own time.
      const own = () =>
        asked.mock.calls.filter(([query]) => !/pgboss|mqtt_/.test(JSON.stringify(query))).length;
      const page = (await ask(key, `/lists/${slug}?limit=${limit}`)).json as unknown as Page;
      const first = own();
      asked.mockClear();
      if (page.next !== null) await ask(key, `/lists/${slug}?limit=${limit}&cursor=${page.next}`);
      const second = page.next === null ? null : own();
      asked.mockRestore();
      return { first, second };
    };
    for (const slug of ['ready', 'slots', 'feedings']) {
      await ask(key, `/lists/${slug}?limit=1`);
      const one = await counted(slug, 1);
      const many = await counted(slug, 40);
      expect(one.second, slug).not.toBeNull();
      expect(new Set([one.first, one.second, many.first]).size, slug).toBe(1);
    }
  });

  test('is asked for by its name, so many rows and its own cursor', async () => {
    const { lists } = (await ask(key, '/lists')).json as { lists: { list: string; address: string }[] };
    expect(lists).toContainEqual(expect.objectContaining({ list: 'stock', address: '/api/v1/lists/stock' }));
    expect((await ask(key, '/lists/of-nothing')).status).toBe(404);
    for (const query of [
      'limit=0',
      'limit=501',
      'limit=2.5',
      'limit=many',
      'cursor=gone',
      'page=2',
      'limit=1&limit=2',
    ])
      expect((await ask(key, `/lists/tanks?${query}`)).status, query).toBe(422);
    expect((await ask(key, '/lists/tanks?after=3&from=2')).text).toContain(
      'Leave out “after” and “from”: nothing here has that name.',
    );
    const { next, rows } = (await ask(key, '/lists/tanks?limit=1')).json as unknown as Page;
    expect(rows.length).toBe(1);
    expect((await ask(key, `/lists/racks?cursor=${next}`)).status).toBe(422);
    for (const place of ['no json', '["\\u0000"]', '[1e999999]', '{}', '7']) {
      const cursor = Buffer.from(JSON.stringify(['tanks', place])).toString('base64url');
      expect((await ask(key, `/lists/tanks?cursor=${cursor}`)).status, place).toBeLessThan(500);
    }
    const cursorOf = (slug: string, place: unknown) =>
      Buffer.from(JSON.stringify([slug, typeof place === 'string' ? place : JSON.stringify(place)])).toString(
        'base64url',
      );
    for (const slug of ['ready', 'slots', 'readings', 'doses', 'water-changes', 'feedings'])
      for (const place of [
        'no json',
        7,
        {},
        ['x'],
        { systemId: hall.systemId, at: 'soon', id: hall.systemId },
      ])
        expect((await ask(key, `/lists/${slug}?cursor=${cursorOf(slug, place)}`)).status, slug).toBe(422);
    // What stands there is gone: another rack, another system, another row.
    const nowhere = randomUUID();
    const entry = { systemId: nowhere, at: '2026-11-24T06:00:00.000Z', id: nowhere };
    const gone = {
      'off-times': 'x.1',
      slots: { rackId: nowhere, row: 1, column: 1 },
      feedings: entry,
      readings: { ...entry, quantityCode: 'alkalinity' },
    };
    for (const [slug, place] of Object.entries(gone))
      expect((await ask(key, `/lists/${slug}?cursor=${cursorOf(slug, place)}`)).status, slug).toBe(409);
    const { link } = (await ask(key, '/lists/tanks?limit=1')).headers;
    expect(link).toBe(`</api/v1/lists/tanks?limit=1&cursor=${next}>; rel="next"`);
  });

  test('is told to whom its file is told, of one site, and names accounts to no key', async () => {
    const reader = await bench.as('reader', 'Vet');
    expect((await reader.get('/api/v1/lists/stock')).status).toBe(200);
    expect((await reader.get('/api/v1/lists/sales')).status).toBe(403);
    expect((await reader.get('/api/v1/lists')).body).not.toContain('sales');
    expect((await owner.get('/api/v1/lists/people')).status).toBe(200);
    for (const path of ['/lists/people', '/export/people.csv', '/export/farm.zip'])
      expect((await ask(key, path)).status, path).toBe(403);
    expect((await ask(key, '/lists')).text).not.toContain('people');
    const farm = await makeKey('No reader', ['farm', 'readings']);
    for (const path of ['/lists', '/lists/stock', '/export/stock.csv'])
      expect((await ask(farm, path)).status, path).toBe(403);
    const apart = await makeHall(bench, { apart: true });
    const { name } = await bench.service.db.site.findUniqueOrThrow({ where: { id: apart.siteId } });
    for (const slug of ['systems', 'tanks', 'racks', 'stock', 'slots']) {
      const { text } = await ask(key, `/lists/${slug}?limit=500`);
      expect(text, slug).toContain('"site"');
      expect(text, slug).not.toContain(name);
    }
  });
});

describe('the document of the doors', () => {
  interface Document {
    paths: Record<string, Record<string, { operationId: string; summary: string; 'x-scope'?: string }>>;
  }
  const read = async () => (await bench.app.inject('/api/v1/openapi.json')).json() as Document;

  test('is valid OpenAPI 3.1, by an independent validator', async () => {
    const document = await read();
    // By a name in a variable: its types name a platform that ours does not stand on.
    const validator = '@seriousme/openapi-schema-validator';
    const { Validator } = (await import(validator)) as { Validator: new () => OpenApiValidator };
    const { valid, errors } = await new Validator().validate(document);
    expect(errors).toBeUndefined();
    expect(valid).toBe(true);
    const all = Object.values(document.paths).flatMap((path) => Object.values(path));
    expect(new Set(all.map(({ operationId }) => operationId)).size).toBe(all.length);
    expect(all.every(({ summary }) => summary.length > 8)).toBe(true);
  });

  test('has every route for programs and every write of a page in words of its own, or a reason why not', async () => {
    const { paths } = await read();
    const isThere = (name: string) => {
      const [method = '', url = ''] = name.split(' ');
      const path = `/api/v1${url.replace(/^\/api/, '').replace(/:(\w+)/g, '{$1}')}`;
      return paths[path]?.[method.toLowerCase()] !== undefined && routeWords[name] !== undefined;
    };
    const names = Object.keys(routeAccess);
    const writes = names.filter((name) => !name.startsWith('GET '));
    expect(writes.length).toBeGreaterThan(250);
    const forPrograms = names.filter((name) => /^\w+ \/api\/\w/.test(name) && !/openapi/.test(name));
    for (const name of new Set([...writes, ...forPrograms])) {
      const reason = leftOut.filter(({ route }) => route.test(name));
      expect(reason.length + Number(isThere(name)), name).toBe(1);
    }
    // A reason of a route that is no longer there is none.
    for (const { route, reason } of leftOut) {
      expect(
        writes.some((name) => route.test(name)),
        String(route),
      ).toBe(true);
      expect(reason.length).toBeGreaterThan(30);
    }
  });

  test('is a page for people', async () => {
    const { status, body } = await owner.get('/api/v1');
    expect(status).toBe(200);
    expect(body).toContain('Adds a tank to a system.');
  });
});

dueCalendar(() => ({ bench, hall }));
generatedClient(() => ({ bench, hall, makeKey: (scopes) => makeKey('Generated client', scopes) }));
webhooks(() => ({ bench, hall, owner }));
