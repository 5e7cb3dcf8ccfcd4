import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import type { Hall } from '../../rounds/hall.ts';
import { type Route, routesOf } from '../../support/routes.ts';
import type { Bench, Visitor } from '../../support/service.ts';
import { Pace } from './pace.ts';

/** What nobody thought of. */
const odd = [
  '',
  ' ',
  '0',
  '-1',
  '1e308',
  '-1e308',
  '9'.repeat(40),
  'NaN',
  '0000-01-01',
  '9999-12-31',
  '2026-02-30',
  '2026-11-24T25:00',
  '%',
  '\u0000',
  '\ud83d',
  "'; DROP TABLE lot; --",
  '../../etc/passwd',
  '<script>',
  'ß'.repeat(2000),
  'null',
  '[]',
  '{}',
  'true',
];

/** Fields and parts of queries that the routes know. */
const names =
  'page day lot lots q quantity at amount systemId siteId version name note from to sheet slots kind tags skip days first copies tag'.split(
    ' ',
  );

/** What came of many requests. */
export interface RouteFuzz {
  requests: number;
  /** Requests that broke, as they were sent. */
  broken: string[];
  pace: Pace;
}

/** Sends odd values to every route, one after the other, until so many requests are sent. */
export async function fuzzRoutes(
  ground: { bench: Bench; hall: Hall; visitor: Visitor },
  count: number,
  seed: number,
): Promise<RouteFuzz> {
  const random = seededRandom(seed);
  const ids = [ground.hall.systemId, ground.hall.lots.A1.id, '00000000-0000-7000-8000-000000000000'];
  // Whoever signs out or takes the own account away is out for all that follow.
  const routes = routesOf(ground.bench.app).filter(({ url }) => !/sign-out|everywhere/.test(url));
  const result: RouteFuzz = { requests: count, broken: [], pace: new Pace(ground.visitor) };
  for (let i = 0; i < count; i++) {
    const route = routes[i % routes.length] as Route;
    const { sent, status } = await result.pace.of(`${route.method} ${route.url}`, () =>
      sendOne(ground.visitor, route, random, ids),
    );
    if (status >= 500) result.broken.push(`${sent} -> ${status} (seed ${seed}, request ${i})`);
  }
  return result;
}

async function sendOne(visitor: Visitor, { method, url }: Route, random: Random, ids: readonly string[]) {
  const pick = <T>(list: readonly T[]): T => list[random.below(list.length)] as T;
  const value = () => (random.below(4) === 0 ? pick(ids) : pick(odd));
  const path = url.replace(/:(\w+)/g, () =>
    encodeURIComponent(random.below(2) === 0 ? pick(ids) : value().toWellFormed()),
  );
  const query = new URLSearchParams();
  for (let i = random.below(4); i > 0; i--) query.append(pick(names), value().toWellFormed());
  const address = `${path}${query.size === 0 ? '' : `?${query}`}`;
  const fields = Object.fromEntries(
    Array.from({ length: random.below(5) }, () => [
      pick(names),
      random.below(3) === 0 ? [value(), value()] : value(),
    ]),
  );
  const sent = `${method} ${address} ${JSON.stringify(fields)}`;
  if (method === 'GET') return { sent, status: (await visitor.get(address)).status };
  const isForm = random.below(2) === 0;
  const answer = isForm ? await visitor.post(address, fields) : await visitor.send(address, fields);
  return { sent, status: answer.status };
}
