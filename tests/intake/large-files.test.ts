import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { largeFiles } from '../support/large-files.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

test.each(largeFiles)(
  '%s: others are answered meanwhile, and the file is read or refused in words',
  async (_, text, words) => {
    const { id } = await bench.service.db.import.create({
      data: {
        ...{ siteId: hall.siteId, fileName: 'large.csv', content: Buffer.from(text) },
        ...{ reading: {}, createdAt: new Date() },
      },
    });
    const page = manager.get(`/water/imports/${id}`);
    const meanwhile = await manager.get(`/water/${hall.systemId}`);
    const { status, body } = await page;
    expect(meanwhile.status).toBeLessThan(500);
    expect(status).toBeLessThan(500);
    expect(body).toContain(words);
  },
  60_000,
);
