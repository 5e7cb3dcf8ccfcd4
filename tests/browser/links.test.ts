import { afterAll, beforeAll, expect, test } from 'vitest';
import { walk } from '../support/crawl.ts';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';

let bench: DemoBench;
beforeAll(async () => {
  bench = await startDemoBench();
}, 120_000);
afterAll(() => bench.close());

test('every link that the owner can follow from Today answers', async () => {
  const broken: string[] = [];
  const kinds = await walk(await bench.as('owner'), ['/'], ({ path, status }) => {
    if (status >= 400) broken.push(`${path}: ${status}`);
  });
  expect(broken).toEqual([]);
  expect(kinds).toBeGreaterThan(100);
}, 200_000);
