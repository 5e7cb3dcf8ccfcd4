import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';

// B04, kit instructions: from the top 2 to 100, through the side a tenth of what the chart shows (50 -> 5).

let bench: Bench;
let hand: Visitor;
let side: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand');
  side = (
    await bench.service.db.method.findFirstOrThrow({ where: { quantityCode: 'nitrate', sideDivisor: 10 } })
  ).id;
});
afterAll(() => bench.close());

const enter = (systemId: string, form: Record<string, string>) =>
  hand.post(`/water/systems/${systemId}/readings`, form);
const kept = (systemId: string) =>
  bench.service.db.reading.findMany({ where: { systemId }, orderBy: { at: 'asc' } });

describe('a chart that is read through the side', () => {
  test('is divided by ten when the person says so, with its uncertainty, and the number shown is kept', async () => {
    const systemId = await makeSystem(bench, 'Side');
    const form = { nitrate: '50', 'nitrate-how': side, 'nitrate-mode': 'side' };
    expect((await enter(systemId, form)).status).toBe(303);
    const [reading] = await kept(systemId);
    expect(reading).toMatchObject({ value: 5, factor: 0.1, enteredText: '50' });
    expect(reading?.uncertainty).toBeCloseTo(0.2 * 5, 6);
    expect((await hand.get(`/water/systems/${systemId}?quantity=nitrate`)).body).toContain(
      '50 mg/L as NO₃ ÷ 10',
    );
  });

  test('ten times the last reading is asked about before any advice, and the answer can be given right there', async () => {
    const systemId = await makeSystem(bench, 'Forgotten');
    await read(bench, systemId, '2026-11-23T08:00Z', 'nitrate', '5');
    const asked = await enter(systemId, { nitrate: '50', 'nitrate-how': side });
    expect(asked.status).toBe(422);
    expect(asked.body).toContain(
      'read through the side of the tube, a dilution not entered, or the decimal point?',
    );
    expect(asked.body).toContain('<option value="side">through the side, ÷ 10</option>');
    expect(asked.body).not.toContain('Test again');
    expect(
      (await enter(systemId, { nitrate: '50', 'nitrate-how': side, 'nitrate-mode': 'side' })).status,
    ).toBe(303);
    expect((await kept(systemId)).map(({ value, trust }) => ({ value, trust }))).toEqual([
      { value: 5, trust: 'plain' },
      { value: 5, trust: 'plain' },
    ]);
  });

  test('a method that is read in one way only refuses the side; a diluted sample counts times its dilution', async () => {
    const systemId = await makeSystem(bench, 'Diluted');
    expect((await enter(systemId, { nitrate: '4', 'nitrate-mode': 'side' })).body).toContain(
      'This method has one way to be read.',
    );
    expect((await enter(systemId, { nitrate: '2', 'nitrate-dilution': '5' })).status).toBe(303);
    expect(await kept(systemId)).toMatchObject([{ value: 10, factor: 5, enteredText: '2' }]);
  });
});

describe('a reading that is corrected', () => {
  test('read through the side of a diluted sample comes back with both, and keeps its value when nothing is changed', async () => {
    const systemId = await makeSystem(bench, 'Both');
    const form = { nitrate: '50', 'nitrate-how': side, 'nitrate-mode': 'side', 'nitrate-dilution': '4' };
    expect((await enter(systemId, form)).status).toBe(303);
    const [reading] = await kept(systemId);
    expect(reading).toMatchObject({ value: 20, factor: 0.4 });
    const { body } = await hand.get(`/water/readings/${reading?.id}`);
    const dilution = /name="dilution"[^>]*value="([^"]*)"/.exec(body)?.[1];
    expect(dilution).toBe('4');
    const again = {
      text: '50',
      unit: reading?.enteredUnit ?? '',
      how: side,
      mode: 'side',
      dilution,
      reason: 'same again',
      sure: 'yes',
    };
    const answer = await hand.post(
      `/water/readings/${reading?.id}/correction`,
      again as Record<string, string>,
    );
    expect(answer.status, answer.body).toBe(303);
    const [newest] = (await kept(systemId)).filter(({ voidedAt }) => voidedAt === null);
    expect(newest).toMatchObject({ value: 20, factor: 0.4 });
  });
});

describe('a surprising reading', () => {
  test('is asked for again on the form at once, with what settles it, and the way back is kept', async () => {
    const systemId = await makeSystem(bench, 'At once');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    const answer = await enter(systemId, { alkalinity: '6.9', back: '/rounds' });
    expect(answer.location).toBe(`/water/systems/${systemId}/repeats?back=%2Frounds`);
    const page = await hand.get(answer.location ?? '');
    expect(page.body).toContain('<h1>Test again now</h1>');
    expect(page.body).toContain('6.3 to 7.5 dKH confirms it');
    expect(page.body).toContain('href="/rounds"');
    const again = await enter(systemId, { alkalinity: '7.0', back: '/rounds' });
    expect(again.location).toBe('/rounds');
    expect((await kept(systemId)).slice(1).map(({ trust }) => trust)).toEqual(['confirmed', 'confirmed']);
  });

  test('rows stand in the order in which this system is tested', async () => {
    const manager = await bench.as('manager');
    const systemId = await makeSystem(bench, 'Order');
    const url = `/water/systems/${systemId}/bench-order`;
    expect((await manager.post(url, { 'nitrate-place': '1', 'salinity-place': '2' })).status).toBe(303);
    const { body } = await hand.get(`/water/systems/${systemId}/readings/new`);
    const places = ['nitrate', 'salinity', 'alkalinity'].map((code) => body.indexOf(`id="${code}"`));
    expect(places[0]).toBeGreaterThan(0);
    expect(places).toEqual([...places].sort((a, b) => a - b));
    expect((await manager.post(url, { 'nitrate-place': 'first' })).status).toBe(422);
    expect((await hand.get(url)).status).toBe(403);
  });
});
