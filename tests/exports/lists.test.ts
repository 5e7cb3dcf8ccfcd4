import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { growDemo } from '../../seed/demo/grow.ts';
import { listGroups } from '../../src/exports/lists/lists.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let owner: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await growDemo(bench.service.pool, { seed: 7, now: benchNow });
  owner = await bench.as('owner', 'Ines Varga');
}, 240_000);
afterAll(() => bench.close());

test('x', async () => {
  for (const { slug } of listGroups.flatMap(({ lists }) => lists)) {
    const { status, body } = await owner.get(`/export/${slug}.csv`);
    const rows = parse(body) as string[][];
    console.log(slug, status, rows.length, rows[0]?.join('|'), rows[1]?.join('|'));
  }
}, 200000);
