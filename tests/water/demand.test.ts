import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addDose } from '../../src/water/log/doses.ts';
import { addWaterChange } from '../../src/water/log/water-changes.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
let systemId: string;
const now = '2026-11-24T08:00:00Z';
const daysAgo = (days: number, hour = 7) =>
  new Date(Date.parse(now) - days * 86_400_000 + (hour - 8) * 3_600_000).toISOString();

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());

const page = async (query = '') =>
  withoutMarks((await hand.get(`/water/systems/${systemId}/demand${query}`)).body).replace(/\s+/g, ' ');

interface Told {
  quantities: {
    quantityCode: string;
    rate: { perDay: number; low: number; high: number; hours: number; leftOut: object; dosedPerDay: number };
    cannotTell: string | null;
    means: string;
    history: { rate: object | null }[];
  }[];
  calciumPerAlkalinity: object | null;
}
const told = async () =>
  (await hand.get(`/api/systems/${systemId}/demand`, { accept: 'application/json' })).json() as Told;

describe('the demand of a system', () => {
  test('cannot be told before anything was read, and the page says what it takes', async () => {
    expect(await page()).toContain('Cannot tell yet: it was never read here.');
    expect(await page()).toContain('Two tests by one kit, some days apart, are the least.');
    expect((await told()).quantities[0]).toMatchObject({ rate: null, cannotTell: 'it was never read here' });
  });

  test('is what is used with doses taken out, in hours by the clock and in grams a day', async () => {
    for (const day of [12, 10, 8, 6, 4, 2, 0]) await read(bench, systemId, daysAgo(day), 'alkalinity', '8.2');
    for (let day = 12; day > 0; day -= 1) {
      await bench.change((work) =>
        addDose(work, systemId, {
          substance: 'sodium bicarbonate',
          amount: 15,
          unit: 'g',
          quantityCode: '',
          rise: null,
          at: new Date(daysAgo(day, 9)),
          note: '',
        }),
      );
    }
    // 15 g in 1,000 L raise by 0.5 dKH (3.00 g a dKH in 100 L, molar masses IUPAC 2021).
    expect(await page()).toContain('used 0.50 dKH a day (');
    expect(await page()).toMatch(
      /Needs 15 g of sodium bicarbonate a day \(1\d g to 1\d g\); the doses as logged give that\./,
    );
    expect(await page()).toContain('7 readings from 12 Nov 07:00 to 24 Nov 07:00, 12 days apart');
    const [alkalinity] = (await told()).quantities;
    expect(alkalinity?.rate.hours).toBeCloseTo(288, 6);
    expect(-(alkalinity?.rate.perDay ?? 0)).toBeCloseTo(15 / 84.006, 3);
    expect(alkalinity?.history.filter(({ rate }) => rate !== null).length).toBeGreaterThan(1);
  });

  test('leaves out what was refuted, and says so', async () => {
    const odd = await read(bench, systemId, daysAgo(0.1, 7), 'alkalinity', '5.2');
    expect(odd.trust).toBe('refuted');
    expect(await page()).toContain('Left out: 1 refuted.');
    expect(await page()).toContain('used 0.50 dKH a day (');
  });

  test('compares a week of use with what the changes bring, and warns of a mix that differs much', async () => {
    await bench.service.db.systemQuantity.update({
      where: { systemId_quantityCode: { systemId, quantityCode: 'alkalinity' } },
      data: { makeUp: 12 / 2.804 },
    });
    for (const day of [9.5, 2.5])
      await bench.change((work) =>
        addWaterChange(work, systemId, {
          amount: 30,
          unit: '%',
          at: new Date(daysAgo(day)),
          note: '',
          reason: 'For this test',
        }),
      );
    expect(await page()).toMatch(
      /\d\.\d\d dKH are used; the changes, \d\d % a week, bring \d\.\d\d dKH back/,
    );
    expect(await page()).toMatch(
      /One change of 30 % with water of 12\.0 dKH takes alkalinity from 8\.2 dKH up by 1\.1 dKH at once, more than 1\.0 dKH a day/,
    );
  });

  test('never lets calcium confirm what it cannot resolve', async () => {
    for (const [day, value] of [
      [26, '430'],
      [18, '420'],
      [10, '430'],
      [1, '420'],
    ] as const)
      await read(bench, systemId, daysAgo(day), 'calcium', value);
    const body = await page('?quantity=calcium');
    expect(body).toMatch(/Calcium beside alkalinity: cannot tell/);
    expect((await told()).calciumPerAlkalinity).toBeNull();
  });

  test('is shown for nitrate as what is made, with where it tends', async () => {
    for (const [day, value] of [
      [21, '8'],
      [14, '11.5'],
      [7, '10.9'],
      [1, '9.9'],
    ] as const)
      await read(bench, systemId, daysAgo(day, 6), 'nitrate', value);
    const body = await page('?quantity=nitrate');
    // 0.5 mg/L a day, followed by hand through changes of 30 % on day 9.5 and 2.5.
    expect(body).toMatch(/made 0\.(4|5)\d mg\/L as NO₃ a day \(/);
    expect(body).toMatch(/With the recent water changes it settles at \d+/);
  });

  test('is linked from the system, and unknown systems are not found', async () => {
    expect((await hand.get(`/water/systems/${systemId}`)).body).toContain(
      `/water/systems/${systemId}/demand`,
    );
    expect((await hand.get('/water/systems/0198e000-0000-7000-8000-000000000000/demand')).status).toBe(404);
  });
});
