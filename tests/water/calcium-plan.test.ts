import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ada');
});
afterAll(() => bench.close());

/** Calcium read twice of late; alkalinity, magnesium and salinity on the days given. */
async function systemWith(tests: Partial<Record<'alkalinity' | 'magnesium' | 'salinity', [string, string]>>) {
  const systemId = await makeSystem(bench, `Run ${Math.random()}`);
  await read(bench, systemId, '2026-11-23T08:00Z', 'calcium', '370');
  await read(bench, systemId, '2026-11-23T09:00Z', 'calcium', '372');
  for (const [code, [day, value]] of Object.entries(tests))
    await read(bench, systemId, `2026-11-${day}T09:00Z`, code, value);
  return systemId;
}
const page = async (systemId: string) =>
  (await manager.get(`/water/systems/${systemId}/corrections/new?quantity=calcium`)).body;
const plan = (systemId: string) =>
  manager.send(`/api/systems/${systemId}/corrections`, {
    quantityCode: 'calcium',
    means: 'calcium-chloride-dihydrate',
    target: 420,
    purity: 100,
  });

test('calcium is planned only where alkalinity, magnesium and salinity were tested within a week', async () => {
  const known = await systemWith({
    alkalinity: ['22', '8.1'],
    magnesium: ['20', '1300'],
    salinity: ['22', '35'],
  });
  expect(await page(known)).toContain('With what');
  expect((await plan(known)).status).toBe(201);

  const none = await systemWith({});
  expect(await page(none)).toContain('Test alkalinity, magnesium and salinity first');
  const refused = await plan(none);
  expect(refused.status).toBe(422);
  expect(refused.body).toContain('Test alkalinity, magnesium and salinity first');
  expect(await bench.service.db.correction.count({ where: { systemId: none } })).toBe(0);

  const old = await systemWith({
    alkalinity: ['22', '8.1'],
    magnesium: ['10', '1300'],
    salinity: ['22', '35'],
  });
  expect(await page(old)).toContain('Test magnesium first');
});

test('alkalinity is planned without them', async () => {
  const systemId = await makeSystem(bench, 'Alkalinity alone');
  await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '7.7');
  await read(bench, systemId, '2026-11-23T09:00Z', 'alkalinity', '7.7');
  const { body } = await manager.get(`/water/systems/${systemId}/corrections/new?quantity=alkalinity`);
  expect(body).toContain('With what');
});
