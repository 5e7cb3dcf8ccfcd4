import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { begin, type Hall, makeHall, planRound } from './hall.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let page: string;
let methodId: string;
let low: string;

const open = async (label: string, openedAt: string) =>
  (await hand.post('/water/kits', { methodId, label, openedAt })).location?.split('/').at(-1) ?? '';

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand', 'Nor Abell');
  const round = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
  page = `/rounds/${round}/systems/${hall.systemId}/tests`;
  ({ id: methodId } = await bench.service.db.method.findFirstOrThrow({
    where: { quantityCode: 'alkalinity', name: 'drop titration' },
  }));
  low = await open('KH 3', '2026-11-01T08:00');
  // A standard of 8.4 dKH read as 7.56 on six days: 10 % low by each.
  for (const day of [10, 12, 14, 16, 18, 20])
    for (const value of ['7.6', '7.5'])
      await hand.post(`/water/kits/${low}/checks`, {
        ...{ standard: '8.4', value, unit: 'dKH', at: `2026-11-${day}T09:00` },
      });
  const readings = [{ quantityCode: 'alkalinity', text: '7.8', unit: 'dKH', kitId: low, sure: true }];
  await hand.send('/api/readings', { systemId: hall.systemId, at: '2026-11-23T20:00', readings });
});
afterAll(() => bench.close());

/** The alkalinity test on a page. */
const testOf = (body: string) => body.split('data-test="alkalinity"')[1]?.split('</form>')[0] ?? '';
const chosen = (body: string) => /value="[^"]*\/([0-9a-f-]{36})" selected/.exec(body)?.[1];

describe('a test whose kit is known to read wrong', () => {
  test('says beside the kit how much it is off and by which check, and what was read with it', async () => {
    const row = testOf((await hand.get(page)).body);
    expect(row).toContain('KH 3: reads 10 % low');
    expect(row).toMatch(/data-kit-doubt><.*KH 3 reads 10 % low \(\d+ to \d+ %\), by its tests of a standard/);
    expect(row).toMatch(/7\.8 dKH, corrected for its kit 8\.7 dKH, /);
    const series = JSON.parse((/data-series="([^"]*)"/.exec(row)?.[1] ?? '').replaceAll('&quot;', '"')) as {
      points: { value: number }[];
    };
    // 8.7 dKH by 2.8 dKH to 1 meq/L.
    expect(series.points.at(-1)?.value).toBeCloseTo(8.7 / 2.8, 1);
  });

  test('offers another kit of the quantity first, on the round and where readings are entered', async () => {
    const right = await open('KH 4', '2026-11-23T21:00');
    expect(chosen(testOf((await hand.get(page)).body))).toBe(right);
    const { body } = await hand.get(`/water/systems/${hall.systemId}/readings/new`);
    expect(body).toContain('KH 3 reads 10 % low');
    expect(chosen(body.split('name="alkalinity-how"')[1] ?? '')).toBe(right);
  });
});
