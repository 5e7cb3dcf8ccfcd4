import { randomUUID } from 'node:crypto';
import Fastify from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { holdRoutesTo, isOpen, may, type RouteAccess } from '../../src/platform/web/access.ts';
import { routeAccess } from '../../src/route-access.ts';
import { makeHall } from '../rounds/hall.ts';
import { type Route, routesOf } from '../support/routes.ts';
import { type Answer, type Bench, browse, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let routes: (Route & { access: RouteAccess | undefined })[];

beforeAll(async () => {
  bench = await startBench({ working: false });
  await makeHall(bench);
  routes = routesOf(bench.app).map((route) => ({ ...route, access: byShape.get(shapeOf(nameOf(route))) }));
});

afterAll(() => bench.close());

/** The name of a route without those of its parts. */
const shapeOf = (name: string) => name.replace(/:\w+/g, ':');

const byShape = new Map(Object.entries(routeAccess).map(([name, access]) => [shapeOf(name), access]));

const nameOf = ({ method, url }: Route) => `${method} ${url}`;

/** An address of a route, of things that do not exist: whether somebody may ask is decided before they are looked for. */
const addressOf = ({ url }: Route) => url.replace(/:(\w+)/g, randomUUID());

/** Plans that anybody may look at before the manager keeps one. */
const sharedWithHands = new Set(['/stock/acclimations', '/water/systems/:id/corrections']);

const notForYou = /This page is for the manager or the owner|may look at the farm and change nothing/;

const ask = (visitor: Visitor, route: Route, token: string, accept: string): Promise<Answer> =>
  route.method === 'GET'
    ? visitor.get(addressOf(route), { accept })
    : route.method === 'PUT'
      ? visitor.put(addressOf(route), Buffer.from('x'), { accept, 'content-type': 'image/jpeg' })
      : visitor.post(addressOf(route), { _csrf: token }, { accept });

/** The token of the forms that somebody is shown. */
async function tokenOf(visitor: Visitor, url: string): Promise<string> {
  return /name="_csrf" value="([^"]+)"/.exec((await visitor.get(url)).body)?.[1] ?? '';
}

/**
 * Where the service lets in whom it should not, or keeps out whom it should let in.
 * @param accept what the visitor takes: most answers are errors, and drawing each as a page would take most of the time
 */
async function wrongly(
  visitor: Visitor,
  page: string,
  isLetIn: (answer: Answer) => boolean,
  should: (access: RouteAccess) => boolean,
  accept = 'application/json',
): Promise<string[]> {
  const token = await tokenOf(visitor, page);
  const wrong: string[] = [];
  for (const route of routes) {
    // Signing out would end the walk.
    if (route.access === undefined || route.url.endsWith('/sign-out')) continue;
    const answer = await ask(visitor, route, token, accept);
    if (isLetIn(answer) !== should(route.access)) wrong.push(`${nameOf(route)}: ${answer.status}`);
  }
  return wrong;
}

describe('the table of all routes', () => {
  test('has a line for each route that runs, and no other', () => {
    expect(routes.filter(({ access }) => access === undefined)).toEqual([]);
    const names = [...byShape.keys()].filter((name) => !name.includes('*'));
    expect(names.sort()).toEqual(routes.map((route) => shapeOf(nameOf(route))).sort());
    expect(byShape.size).toBe(Object.keys(routeAccess).length);
  });

  test('a route without a line does not start', () => {
    const app = Fastify();
    holdRoutesTo(routeAccess, app);
    expect(() => app.get('/farm/new-and-forgotten', async () => 'x')).toThrow(
      'Nobody has said who may ask for "GET /farm/new-and-forgotten".',
    );
  });

  test('asks for one role for a page and for sending its form', () => {
    const apart = routes
      .filter(({ method, url }) => method === 'POST' && !sharedWithHands.has(url))
      .filter(({ url, access }) => {
        const pages = [`GET ${url}`, `GET ${url}/new`].map((name) => byShape.get(shapeOf(name)));
        return access === 'manager' && pages.at(-1) === 'hand';
      });
    expect(apart.map(nameOf)).toEqual([]);
    expect(routeAccess['POST /tags']).toBe('manager');
  });
});

describe('each route is held to its line', () => {
  test.each(['reader', 'hand', 'manager', 'owner'] as const)('for the %s', async (role) => {
    const visitor = await bench.as(role);
    const wrong = await wrongly(
      visitor,
      '/',
      (answer) => !(answer.status === 403 && notForYou.test(answer.body)),
      (access) => may(role, access),
    );
    expect(wrong).toEqual([]);
  });

  test('for a stranger, who is asked to sign in', async () => {
    const visitor = browse(bench.app);
    const isAsked = ({ status, location }: Answer) =>
      status === 401 || (location?.startsWith('/sign-in') ?? false);
    const wrong = await wrongly(visitor, '/sign-in', (answer) => !isAsked(answer), isOpen, 'text/html');
    expect(wrong).toEqual([]);
  });

  test('for an access key, which enters readings and doses and does nothing else', async () => {
    const owner = await bench.as('owner', 'Ines Varga');
    const made = await owner.post('/people/keys', { name: 'Doser' });
    const key = /<code class="key-text">(ew_[\w-]{43})<\/code>/.exec(made.body)?.[1] ?? '';
    const letIn: string[] = [];
    for (const route of routes.filter(({ url }) => !url.startsWith('/health'))) {
      const headers = { authorization: `Bearer ${key}`, 'idempotency-key': randomUUID() };
      const asked = { method: route.method as 'GET', url: addressOf(route), headers, payload: {} };
      const answer = await bench.app.inject(route.method === 'GET' ? { ...asked, payload: '' } : asked);
      if (![401, 403, 415].includes(answer.statusCode)) letIn.push(nameOf(route));
    }
    expect(letIn.sort()).toEqual([
      'POST /api/doses',
      'POST /api/readings',
      'POST /api/readings/batches',
      'POST /api/senml',
    ]);
  });
});
