import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeUpAtSalinity } from '../../src/water/log/water-changes.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

// Water that comes in is the usual make-up water unless somebody says otherwise; what comes in otherwise must not be
// taken for what the stock used or made.

let bench: Bench;
let hand: Visitor;
const now = Date.parse('2026-11-24T08:00:00Z');
const daysAgo = (days: number) => new Date(now - days * 86_400_000).toISOString();

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());

describe('water mixed to another salinity', () => {
  const usual = { salinity: 35, alkalinity: 3, nitrate: 0.5, temperature: 25, ph: 8.1 };

  test('holds everything in proportion to its salt', () => {
    // Constancy of composition: every conservative constituent keeps its ratio to salinity (Dittmar 1884).
    expect(makeUpAtSalinity(usual, 42)).toEqual({
      salinity: 42,
      alkalinity: expect.closeTo(3.6, 9),
      nitrate: expect.closeTo(0.6, 9),
    });
  });

  test('purified water holds nothing, whether or not the usual water is stated', () => {
    expect(makeUpAtSalinity(usual, 0)).toMatchObject({ salinity: 0, alkalinity: 0, nitrate: 0 });
    expect(makeUpAtSalinity({}, 0)).toEqual({
      salinity: 0,
      alkalinity: 0,
      calcium: 0,
      magnesium: 0,
      nitrate: 0,
      phosphate: 0,
    });
  });
});

describe('a change with other water', () => {
  const usedADay = async (systemId: string) => {
    const answer = await hand.get(`/api/systems/${systemId}/demand`, { accept: 'application/json' });
    const { quantities } = answer.json() as {
      quantities: { quantityCode: string; rate: { perDay: number } }[];
    };
    return -(quantities.find((one) => one.quantityCode === 'alkalinity')?.rate.perDay ?? Number.NaN);
  };

  /** Water that uses nothing, 20 % of it exchanged once: what it reads afterwards is the mixture. */
  async function exchanged(name: string, water: Record<string, string>, after: string) {
    const systemId = await makeSystem(bench, name);
    await bench.service.db.systemQuantity.update({
      where: { systemId_quantityCode: { systemId, quantityCode: 'alkalinity' } },
      data: { makeUp: 3 },
    });
    for (const day of [8, 7, 6, 5])
      await read(bench, systemId, daysAgo(day), 'alkalinity', '3', { unit: 'meq/L' });
    const change = { amount: '20', unit: '%', at: daysAgo(4.5), reason: 'For this test', ...water };
    expect((await hand.post(`/water/systems/${systemId}/water-changes`, change)).status).toBe(303);
    for (const day of [4, 3, 2, 1])
      await read(bench, systemId, daysAgo(day), 'alkalinity', after, { unit: 'meq/L' });
    return systemId;
  }

  test('by purified water is not taken for use by the stock', async () => {
    // Conservation of mass: 3 x 0.8 + 0 x 0.2 = 2.4.
    const purified = await exchanged('Thinned', { water: 'purified' }, '2.4');
    expect(await usedADay(purified)).toBeCloseTo(0, 6);
    expect((await hand.get(`/water/systems/${purified}/water-changes`)).body).toContain(
      '20 % by purified water',
    );
    const usual = await exchanged('As ever', {}, '2.4');
    expect(await usedADay(usual)).toBeGreaterThan(0.05);
  });

  test('by stronger water brings more of everything, and wants its salinity said', async () => {
    // 42 / 35 of 3 meq/L is 3.6: 3 x 0.8 + 3.6 x 0.2 = 3.12.
    const systemId = await exchanged('Stronger', { water: 'other', salinity: '42' }, '3.12');
    expect(await usedADay(systemId)).toBeCloseTo(0, 6);
    const untold = await hand.post(`/water/systems/${systemId}/water-changes`, {
      amount: '20',
      unit: '%',
      water: 'other',
    });
    expect(untold.status).toBe(422);
    expect(untold.body).toContain('Enter the salinity that the new water was mixed to.');
  });

  test('explains the reading after it, so that nobody is asked to repeat that', async () => {
    const systemId = await makeSystem(bench, 'Explained');
    for (const day of [6, 5, 4, 3]) await read(bench, systemId, daysAgo(day), 'nitrate', '10');
    const change = { amount: '50', unit: '%', reason: 'For this test', water: 'purified', at: daysAgo(2) };
    await hand.post(`/water/systems/${systemId}/water-changes`, change);
    expect(await read(bench, systemId, daysAgo(1), 'nitrate', '5')).toMatchObject({ trust: 'plain' });
  });
});
