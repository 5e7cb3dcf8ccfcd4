import { afterAll, beforeAll, expect, test } from 'vitest';
import { fuzzImporters } from '../bench/fuzz/importers.ts';
import { fuzzRoutes } from '../bench/fuzz/routes.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { routesOf } from '../support/routes.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Small; `npm run bench:fuzz` sends 20,000 requests and 2,000 files.
const seed = Number(process.env.FUZZ_SEED ?? 71);
let bench: Bench;
let hall: Hall;
let visitor: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  visitor = await bench.as('owner', 'Ines Varga');
});

afterAll(() => bench.close());

test('whatever is sent, no route breaks: it is answered, refused or not found', async () => {
  const routes = routesOf(bench.app).length;
  expect(routes).toBeGreaterThan(150);
  const { broken } = await fuzzRoutes({ bench, hall, visitor }, 2 * routes, seed);
  expect(broken).toEqual([]);
});

test('whatever file is brought, it is taken whole or not at all, and every good one is taken', async () => {
  const { faults, taken } = await fuzzImporters({ bench, hall, visitor }, 60, seed);
  expect(faults).toEqual([]);
  expect(taken).toBeGreaterThanOrEqual(30);
});
