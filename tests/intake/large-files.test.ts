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
);

const hostile = `a${'- ('.repeat(20_000)}b`;

test.each([
  [
    'readings',
    '/water/imports',
    `when,system,quantity,value,unit\n2026-11-01,"${hostile}",alkalinity,8.1,dKH\n`,
  ],
  ['stock', '/stock/imports', `code,kind,pieces,place\nA1,Goniastrea,1,"${hostile}"\n`],
  [
    'what was done',
    '/water/log-files',
    `when,system,what,amount,unit\n2026-11-01,Hall,dose,"1 ${hostile}",mL\n`,
  ],
])(
  'a file of %s with a cell far longer than it can be is refused with the column and its beginning',
  async (_, way, text) => {
    const file = { field: 'file', name: 'hostile.csv', content: Buffer.from(text) };
    const { location, body } = await manager.upload(way, { kind: 'doses' }, file);
    const said = location === undefined ? body : (await manager.get(location)).body;
    expect(said).toMatch(/Column \d has a cell of 60,00\d characters, which begins/);
  },
);
