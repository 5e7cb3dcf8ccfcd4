import { afterAll, beforeAll, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { routesOf } from '../support/routes.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
});

afterAll(() => bench.close());

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

test('whatever is sent, no route breaks: it is answered, refused or not found', async () => {
  const random = seededRandom(Number(process.env.FUZZ_SEED ?? 71));
  const ids = [hall.systemId, hall.lots.A1.id, '00000000-0000-7000-8000-000000000000'].filter(
    (id) => id !== undefined,
  );
  const pick = <T>(list: readonly T[]): T => list[random.below(list.length)] as T;
  const value = () => (random.below(4) === 0 ? pick(ids) : pick(odd));
  const names = [
    'page',
    'day',
    'lot',
    'lots',
    'q',
    'quantity',
    'at',
    'amount',
    'systemId',
    'siteId',
    'version',
    'name',
    'note',
    'from',
    'to',
    'sheet',
    'slots',
    'kind',
    'tags',
    'skip',
    'days',
  ];
  const broken: string[] = [];
  const routes = routesOf(bench.app).filter(({ url }) => !url.startsWith('/sign-out'));
  expect(routes.length).toBeGreaterThan(150);
  for (const { method, url } of routes) {
    for (let turn = 0; turn < 2; turn++) {
      const path = url.replace(/:(\w+)/g, () =>
        encodeURIComponent(turn === 0 ? pick(ids) : value().toWellFormed()),
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
      const answer =
        method === 'GET'
          ? await owner.get(address)
          : random.below(2) === 0
            ? await owner.post(address, fields)
            : await owner.send(address, fields);
      if (answer.status >= 500)
        broken.push(`${method} ${address} ${JSON.stringify(fields)} -> ${answer.status}`);
    }
  }
  expect(broken).toEqual([]);
}, 120_000);
