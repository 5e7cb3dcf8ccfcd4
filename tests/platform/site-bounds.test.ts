import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Role } from '../../src/generated/prisma/enums.ts';
import { subjects } from '../../src/journal/subjects.ts';
import { isOpen, may } from '../../src/platform/web/access.ts';
import { routeAccess } from '../../src/route-access.ts';
import { siteThings } from '../../src/site-things.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { walk } from '../support/crawl.ts';
import { type Route, routesOf } from '../support/routes.ts';
import { type Answer, type Bench, startBench, type Visitor } from '../support/service.ts';
import { fill, mark, type Things } from './far-site.ts';

// Two sites in one database. Pages are about the first. Of the second nothing is shown and nothing changed, whoever asks
// and however its things are named. With WALK=whole each route is tried with a thing of every kind in each part of its
// address, in its query and in its body, by each role that may ask: an hour and more on two cores, so that WALK=3/8 does the
// third of eight parts of it. Else the lowest role asks; every address is tried with
// the kind that it names, and every kind also on some other routes.

const walkPart = /^(\d+)\/(\d+)$/.exec((process.env.WALK ?? '').replace('whole', '1/1'));
const isWhole = walkPart !== null;

/** Whether a request is made: of the whole walk those of its part, else one in so many. */
const isTried = (turn: number, nth: number): boolean =>
  walkPart === null ? turn % nth === 0 : turn % Number(walkPart[2]) === Number(walkPart[1]) - 1;

const longestMs = isWhole ? 3_600_000 : 600_000;

const everyRole = ['reader', 'hand', 'manager', 'owner'] as const;

let bench: Bench;
let near: Hall;
let far: Hall;
/** What belongs to the second site, by kind. */
let things: Things;
/** Texts that stand nowhere but in the second site. */
let marks: string[];
let routes: Route[];
const people = {} as Record<Role, { visitor: Visitor; token: string }>;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  near = await makeHall(bench);
  far = await makeHall(bench, { apart: true });
  things = await fill(bench, far);
  const { db } = bench.service;
  const { name } = await db.system.findUniqueOrThrow({ where: { id: far.systemId } });
  const site = await db.site.findUniqueOrThrow({ where: { id: far.siteId } });
  marks = [mark, name, site.name, ...Object.values(far.lots).map(({ code }) => code)];
  const open = Object.entries(routeAccess).filter(([, access]) => isOpen(access));
  const openShapes = new Set(open.map(([route]) => shapeOf(route)));
  routes = routesOf(bench.app).filter(({ method, url }) => !openShapes.has(shapeOf(`${method} ${url}`)));
  for (const role of everyRole) {
    const visitor = await bench.as(role);
    // Owners see to every site; the others belong to the first alone.
    if (role !== 'owner')
      await db.sitePerson.create({ data: { siteId: near.siteId, accountId: visitor.id, role } });
    const body = (await visitor.get('/')).body;
    people[role] = { visitor, token: /name="_csrf" value="([^"]+)"/.exec(body)?.[1] ?? '' };
  }
}, longestMs);

afterAll(() => bench.close());

const shapeOf = (name: string) => name.replace(/:\w+/g, ':');

/** Who may ask for a route of each shape; of two lines with one shape the first counts. */
const accessOf = new Map(
  Object.entries(routeAccess)
    .reverse()
    .map(([route, access]) => [shapeOf(route), access]),
);

/** Every role that may ask for a route, the lowest first. */
function rolesFor({ method, url }: Route): Role[] {
  const access = accessOf.get(shapeOf(`${method} ${url}`)) ?? 'owner';
  return everyRole.filter((role) => may(role, access));
}

/** What of the second site an answer says, but for the text that was sent. */
const leaks = (answer: Answer, sent: string) =>
  marks.filter((text) => text !== sent && answer.body.includes(text));

/** The address of a route with an id in its first part, second part and so on, and things of this site in the others. */
function addressesWith(url: string, id: string): string[] {
  const here: Record<string, string> = {
    ...{ rackId: near.window, lotId: near.lots.A1.id, systemId: near.systemId, day: '2026-11-24' },
    ...{ figure: 'par', rule: 'out-of-band', name: 'far', code: near.lots.A1.code },
  };
  const parts = url.match(/:\w+/g) ?? [];
  return parts.map((_, tried) => {
    let place = -1;
    return url.replace(/:(\w+)/g, (_part, name: string) => {
      place += 1;
      return place === tried ? id : (here[name] ?? near.systemId);
    });
  });
}

/** Words before an id that are not the name of what it is of. */
const otherWords: Readonly<Record<string, string>> = { watch: 'alert', moves: 'moveplan', stock: 'code' };

/** Whether the word before a part of an address names the kind: of '/farm/tanks/:id' a tank. */
function isOfKind(url: string, part: number, kind: string): boolean {
  const before = url.split('/:')[part]?.split('/').at(-1) ?? '';
  const word = (otherWords[before] ?? before).replaceAll('-', '').replace(/(?<=[a-z])s$/, '');
  return word !== '' && kind.toLowerCase().includes(word);
}

/** The ways in which a request can name a thing, each as the fields of a form or of JSON. */
const shapes: readonly ((kind: string, id: string) => Record<string, unknown>)[] = [
  (kind, id) => ({ [kind]: id }),
  (kind, id) => ({ [`${kind}Id`]: id }),
  (kind, id) => ({ where: `${kind}:${id}` }),
  (_, id) => ({ lots: `${near.lots.A1.id},${id}` }),
  (kind, id) => ({ [`${kind}-${id}`]: 'on' }),
];

let asked = 0;

/**
 * Errors are asked for as JSON, and one in four as a page, of which the whole walk has none: drawing pages that say "not
 * here" would take most of the time.
 */
function acceptNext(): { accept: string } | undefined {
  asked += 1;
  return isWhole || asked % 4 !== 0 ? { accept: 'application/json' } : undefined;
}

/** A machine too busy to answer (503) is asked again. */
async function ask(...asked: Parameters<typeof askOnce>): Promise<Answer> {
  const answer = await askOnce(...asked);
  return answer.status === 503 ? askOnce(...asked) : answer;
}

async function askOnce(role: Role, { method, url }: Route, fields: object | null, asJson = false) {
  const { visitor, token } = people[role];
  const accept = acceptNext();
  if (method === 'GET') return visitor.get(url, accept);
  if (method === 'PUT') {
    const headers = { 'content-type': 'image/jpeg', 'x-csrf-token': token };
    return visitor.put(url, Buffer.from('x'), headers);
  }
  if (asJson) return visitor.send(url, { list: [fields] }, { 'x-csrf-token': token });
  return visitor.post(url, { _csrf: token, ...fields }, accept);
}

/** How many requests are under way at once in the whole walk: enough that service and database both have work. */
const lanes = isWhole ? 6 : 1;

/** Does something with each, some at a time. */
async function withEach<T>(list: readonly T[], act: (one: T) => Promise<void>): Promise<void> {
  let next = 0;
  const lane = async () => {
    while (next < list.length) await act(list[next++] as T);
  };
  await Promise.all(Array.from({ length: lanes }, lane));
}

/** A fingerprint of every table but those of sessions, of tries, and of when an access key was used. */
async function fingerprints(): Promise<Record<string, string>> {
  const { rows: tables } = await bench.service.pool.query<{ name: string }>(
    `SELECT table_name AS name FROM information_schema.tables
      WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND table_name NOT IN ('session', 'wrong_try', 'access_key')`,
  );
  const prints = tables.map(async ({ name }) => {
    const text = `SELECT md5(coalesce(string_agg(it::text, ' ' ORDER BY it::text), '')) AS print FROM "${name}" AS it`;
    return [name, (await bench.service.pool.query<{ print: string }>(text)).rows[0]?.print ?? ''];
  });
  return Object.fromEntries(await Promise.all(prints));
}

test('one thing of each kind stands at the second site', async () => {
  const tables = new Set([...siteThings.elsewhere.matchAll(/FROM (\w+)/g)].map(([, table]) => table ?? ''));
  const ids = Object.values(things);
  const missing: string[] = [];
  for (const table of tables) {
    const { rowCount } = await bench.service.pool.query(
      `SELECT FROM ${table} WHERE id::text = ANY ($1::text[])`,
      [ids],
    );
    if (rowCount === 0) missing.push(table);
  }
  expect(missing).toEqual([]);
});

/**
 * Each of some routes with a thing of each kind in its fields, named in one of the ways and by one of the roles, in turn.
 * @param nth of so many one is tried, but for the whole walk
 */
function tries(isOne: (route: Route) => boolean, nth: number) {
  const all = routes
    .filter(isOne)
    .flatMap((route) => Object.entries(things).map((thing) => ({ route, thing })));
  return all
    .map(({ route, thing: [kind, id] }, at) => {
      const turn = at + 1;
      const role = rolesFor(route).at(turn % rolesFor(route).length) ?? 'owner';
      const shape = shapes[Math.floor(turn / nth) % shapes.length] ?? shapes[0];
      // A code is read where it stands alone or in a list.
      const fields = kind === 'code' ? { lot: id } : (shape?.(kind, id) ?? {});
      return { route, role, kind, id, fields, turn };
    })
    .filter(({ turn }) => isTried(turn, nth));
}

/** What an owner is told of all sites: their names, who belongs to which, and where lots can be taken. */
const ofEverySite = /^\/(sites|people|stock\/several\/site)/;

describe('what belongs to another site', () => {
  let before: Record<string, string>;
  beforeAll(async () => {
    before = await fingerprints();
  });

  test.each(everyRole)(
    'is not there in any address for the %s',
    async (role) => {
      const wrong: string[] = [];
      const asks = (one: Route) => (isWhole ? rolesFor(one).includes(role) : rolesFor(one)[0] === role);
      const all = routes
        .filter((one) => one.url.includes(':') && asks(one))
        .flatMap((route) =>
          Object.entries(things).flatMap(([kind, id]) =>
            addressesWith(route.url, id).map((url, part) => {
              const likely = isOfKind(route.url, part, kind);
              return { route: { ...route, url }, kind, id, likely };
            }),
          ),
        );
      const chosen = all.filter(({ likely }, at) => (likely && !isWhole) || isTried(at + 1, 37));
      await withEach(chosen, async ({ route, kind, id }) => {
        const answer = await ask(role, route, {});
        const said = leaks(answer, id);
        if (answer.status !== 404 || said.length > 0)
          wrong.push(`${route.method} ${route.url} with a ${kind}: ${answer.status} ${said}`);
      });
      expect(wrong).toEqual([]);
      if (role === 'hand' || role === 'manager') expect(chosen.length).toBeGreaterThan(200);
    },
    longestMs,
  );

  test(
    'is not there where a query names it, whatever the field is called',
    async () => {
      const wrong: string[] = [];
      const named = tries(({ method, url }) => method === 'GET' && !url.includes(':'), 19);
      await withEach(named, async ({ route, role, kind, id, fields }) => {
        const url = `${route.url}?${new URLSearchParams(fields as Record<string, string>)}`;
        const answer = await ask(role, { ...route, url }, null);
        const said = leaks(answer, id);
        if (answer.status !== 404 || said.length > 0)
          wrong.push(`${url} (${kind}): ${answer.status} ${said}`);
      });
      expect(wrong).toEqual([]);
    },
    longestMs,
  );

  test(
    'is not taken where a form or JSON names it, whatever the field is called',
    async () => {
      const wrong: string[] = [];
      const named = tries(({ method }) => method === 'POST', 29);
      await withEach(named, async ({ route, role, id, fields, turn }) => {
        const [url = route.url] = addressesWith(route.url, near.systemId);
        const answer = await ask(role, { ...route, url }, fields, turn % 2 === 0);
        const said = leaks(answer, id);
        if (![404, 422].includes(answer.status) || said.length > 0)
          wrong.push(`${route.method} ${url} ${JSON.stringify(fields)}: ${answer.status} ${said}`);
      });
      expect(wrong).toEqual([]);
    },
    longestMs,
  );

  test('is not taken from an instrument', async () => {
    const { visitor, token } = people.owner;
    const { body } = await visitor.post('/people/keys', { _csrf: token, name: 'Controller' });
    const [key = 'no key'] = /ew_[\w-]{43}/.exec(body) ?? [];
    before = await fingerprints();
    const post = (url: string, payload: object) =>
      bench.app.inject({
        ...{ method: 'POST', url, payload },
        headers: { authorization: `Bearer ${key}`, 'idempotency-key': randomUUID() },
      });
    const at = '2026-11-24T07:30:00Z';
    const reading = { systemId: far.systemId, quantity: 'alkalinity', value: '8.1', at };
    const answers = [
      await post('/api/readings', reading),
      await post('/api/readings/batches', { readings: [reading] }),
      await post('/api/doses', { systemId: far.systemId, at, substance: 'x', amount: 1, unit: 'g' }),
    ];
    expect(answers.map(({ statusCode }) => statusCode)).toEqual([422, 422, 422]);
  });

  test('was left as it was by all of this, and so was everything else', async () => {
    const after = await fingerprints();
    expect(Object.keys(after).filter((table) => after[table] !== before[table])).toEqual([]);
  });

  // The same in every part of the whole walk: the first one does it.
  test.skipIf(isWhole && walkPart[1] !== '1').each(everyRole)(
    'stands on no page that the %s comes to by a link, and on no list',
    async (role) => {
      const wrong: string[] = [];
      const lists = routes
        .filter(
          (route) => route.method === 'GET' && !route.url.includes(':') && rolesFor(route).includes(role),
        )
        .map(({ url }) => url);
      await walk(people[role].visitor, ['/', ...lists], ({ path, status, body }) => {
        if (role === 'owner' && ofEverySite.test(path)) return;
        const said = marks.filter((text) => body.includes(text));
        if (said.length > 0 || status >= 500) wrong.push(`${path}: ${status} ${said}`);
      });
      expect(wrong).toEqual([]);
    },
    600_000,
  );

  test('does not stand in the way of what is of this site', async () => {
    expect((await people.hand.visitor.get(`/water/systems/${near.systemId}`)).status).toBe(200);
  });
});

/** Nouns of the journal that are the whole farm's, so that every site is told of them. */
const ofTheFarm = new Set(
  'access_key account backup check_reading digest_receiver kind kit kit_pair label_sheet method tablet'.split(
    ' ',
  ),
);

test('a line of the journal is of the site of what it is about', async () => {
  const { rows } = await bench.service.pool.query<{ noun: string; found: boolean }>(
    `SELECT noun, coalesce(bool_or(site_of(noun, id) = $3), false) AS found
       FROM unnest($1::text[]) AS noun, unnest($2::uuid[]) AS id GROUP BY noun`,
    [
      Object.keys(subjects),
      [...Object.values(things).filter((id) => id.length === 36), far.siteId],
      far.siteId,
    ],
  );
  const unknown = rows.filter(({ noun, found }) => found !== !ofTheFarm.has(noun)).map(({ noun }) => noun);
  expect(unknown).toEqual([]);
});
