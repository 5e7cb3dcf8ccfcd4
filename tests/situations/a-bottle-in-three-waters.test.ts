import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';

// A new bottle reads 8 % high in three waters that are each tested once a week: none of them tells, all of them do. Made up.

let bench: Bench;
let manager: Visitor;
const waters: string[] = [];
const kits: Record<string, { kitId: string; methodId: string }> = {};

/** Weekly tests from 13 April on, mg/L, each of its own water: 421 within 4, then by the new bottle from 9 November on. */
const before = Array.from({ length: 30 }, (_, i) => [419, 423, 420, 424, 418, 422, 421, 420][i % 8] ?? 421);
const after = [455, 452, 457];
const week = (from: string, i: number, water: number) =>
  new Date(Date.parse(from) + (7 * i + water) * 86_400_000).toISOString();

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
  bench.at('2026-11-26T08:00:00Z');
  const { id: methodId } = await bench.service.db.method.findFirstOrThrow({
    where: { quantityCode: 'calcium', isDefault: true },
  });
  for (const [label, openedAt] of [
    ['Calcium 1', '2026-04-01'],
    ['Calcium 2', '2026-11-09'],
  ] as const) {
    const data = { id: randomUUID(), methodId, label, openedAt: new Date(openedAt) };
    const { id } = await bench.service.db.kit.create({ data });
    kits[label] = { kitId: id, methodId };
  }
  for (const [water, name] of ['North', 'South', 'Apart'].entries()) {
    const systemId = await makeSystem(bench, name);
    waters.push(systemId);
    for (const [i, value] of before.entries())
      await read(
        bench,
        systemId,
        week('2026-04-13T08:00Z', i, water),
        'calcium',
        `${value + water}`,
        kits['Calcium 1'],
      );
    for (const [i, value] of after.entries())
      await read(
        bench,
        systemId,
        week('2026-11-09T08:00Z', i, water),
        'calcium',
        `${value - water}`,
        kits['Calcium 2'],
      );
  }
});
afterAll(() => bench.close());

async function kitAlerts(at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, waters, new Date(at));
  const open = await openAlerts(bench.service.pool);
  return open.filter(({ rule }) => rule === 'kit-biased');
}

test('waters that step together on the day of a new bottle are told as two bottles that differ, before anything is dosed', async () => {
  const [alert, ...others] = await kitAlerts('2026-11-26T09:00:00Z');
  expect(others).toEqual([]);
  expect(alert?.title).toMatch(/^Calcium 2: it and the bottle before differ by [78] %$/);
  expect(alert?.finding.firstStep).toContain('Test a standard in duplicate today');
  expect(alert?.finding.firstStep).toContain('Change nothing in the water before.');
  const page = await manager.get(`/water/kits/${kits['Calcium 2']?.kitId}`);
  expect(page.body).toContain('It and the bottle before differ');
});

test('a standard tested twice then says which of them is wrong, and readings are shown corrected', async () => {
  bench.at('2026-11-26T12:00:00Z');
  for (const value of ['432', '431']) {
    const check = { standard: '400', value, unit: 'mg/L', at: '2026-11-26T10:00', note: '' };
    expect((await manager.post(`/water/kits/${kits['Calcium 2']?.kitId}/checks`, check)).status).toBe(303);
  }
  const [alert] = await kitAlerts('2026-11-26T13:00:00Z');
  expect(alert?.title).toBe('Calcium 2: the kit reads high');
  const page = await manager.get(`/water/kits/${kits['Calcium 2']?.kitId}`);
  expect(page.body).toMatch(/It reads [78] % high/);
});
