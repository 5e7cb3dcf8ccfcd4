import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
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

const megabytes = 8;
const lines = (line: string, count: number) => `${line}\n`.repeat(count);
/** Years of hourly values, two columns. */
const readings = (count: number) =>
  ['when,Alkalinity dKH']
    .concat(
      Array.from({ length: count }, (_, i) => {
        const at = new Date(Date.parse('2026-11-24T07:00:00Z') - i * 3_600_000).toISOString();
        return `${at.slice(0, 16)},8.${i % 10}`;
      }),
    )
    .join('\n');

test.each<[string, string, string]>([
  ['one line of commas', ','.repeat(megabytes * 1e6), 'no table of readings'],
  ['lines of 900 commas', lines(','.repeat(900), 9000), 'more than 2,000,000 cells'],
  ['lines of 80 commas', lines(','.repeat(80), 99_000), 'more than 2,000,000 cells'],
  ['quotation marks', '"'.repeat(1e6), 'no table of readings'],
  ['50,000 readings', readings(50_000), 'Alkalinity dKH'],
])(
  '%s: others are answered meanwhile, and the file is read or refused in words',
  async (_, text, words) => {
    const { id } = await bench.service.db.import.create({
      data: { fileName: 'large.csv', content: Buffer.from(text), reading: {}, createdAt: new Date() },
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
