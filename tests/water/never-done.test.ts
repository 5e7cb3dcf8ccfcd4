import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

// A farm that never doses, and changes no water, says so once: from then on an empty log is no gap. Where something is dosed
// by a doser or a routine, an empty log is one, and nothing is said of use.

let bench: Bench;
let manager: Visitor;
let siteId: string;
const daysAgo = (days: number) => new Date(benchNow.getTime() - days * 86_400_000);

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

async function steadySystem(name: string, from = 8.2, perDay = 0): Promise<string> {
  const systemId = await makeSystem(bench, name);
  siteId = (await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } })).siteId;
  bench.at(benchNow);
  for (const days of [12, 9, 6, 3, 0]) {
    await read(
      bench,
      systemId,
      daysAgo(days).toISOString(),
      'alkalinity',
      (from + perDay * (12 - days)).toFixed(2),
    );
    await read(bench, systemId, daysAgo(days).toISOString(), 'nitrate', '8');
  }
  return systemId;
}

const page = async (url: string) => (await manager.get(url)).body.replace(/\s+/g, ' ');
const never = (systemId: string, what: string, more = {}) =>
  manager.post(`/water/systems/${systemId}/never`, { what, ...more });

test('said once, it is never again told that no doses are recorded, and steady water says that nothing is used', async () => {
  const systemId = await steadySystem('Never dosed');
  expect(await page(`/water/systems/${systemId}/demand`)).toContain('No doses are recorded');
  expect(await page(`/water/systems/${systemId}/doses`)).toContain('Nothing is dosed here');
  expect((await never(systemId, 'doses')).status).toBe(303);
  const demand = await page(`/water/systems/${systemId}/demand`);
  expect(demand).not.toContain('No doses are recorded');
  expect(demand).toContain('no use measurable');
  expect(await page(`/water/systems/${systemId}/doses`)).toMatch(
    /Nothing is dosed here, said on (<time[^>]*>)?24 Nov 2026/,
  );
  expect(await page('/watch/limits')).not.toMatch(/No dose was ever recorded for[^.]*Never dosed/);
  expect((await never(systemId, 'doses', { done: 'yes' })).status).toBe(303);
  expect(await page(`/water/systems/${systemId}/demand`)).toContain('No doses are recorded');
});

test('where no water is changed, what feeding brings is judged from the day on which that was said', async () => {
  const systemId = await steadySystem('Never changed');
  await bench.service.db.system.update({ where: { id: systemId }, data: { unchangedSince: daysAgo(13) } });
  const nutrients = await page(`/water/systems/${systemId}/nutrients?quantity=nitrate`);
  expect(nutrients).not.toContain('no water changes are recorded');
  await bench.service.db.system.update({ where: { id: systemId }, data: { unchangedSince: daysAgo(1) } });
  expect(await page(`/water/systems/${systemId}/nutrients?quantity=nitrate`)).not.toContain(
    'no water changes are recorded',
  );
});

test('with a doser and no log nothing is said of use, though the level falls: the log is asked for', async () => {
  const systemId = await steadySystem('Dosed unlogged', 9, -0.1);
  await bench.service.db.equipment.create({ data: { systemId, kind: 'doser', name: 'Dosing pump' } });
  const demand = await page(`/water/systems/${systemId}/demand`);
  expect(demand).toContain('log what is given, and since when');
  expect(demand).toContain('use is not known');
  expect(demand).not.toMatch(/Needs [\d.]+ k?g of/);
  expect(await page('/watch/limits')).toContain('Something is dosed in Dosed unlogged');
});

test('with a routine of water changes and no log the log is asked for', async () => {
  const systemId = await steadySystem('Routine unlogged');
  await bench.service.db.routine.create({
    data: {
      systemId,
      work: 'water_change',
      everyDays: 7,
      startsOn: daysAgo(60),
      detail: { amount: 10, unit: '%' },
    },
  });
  expect(await page(`/water/systems/${systemId}/nutrients?quantity=nitrate`)).toContain(
    'a routine plans water changes but none is recorded',
  );
});

test('only a manager says it', async () => {
  const systemId = await steadySystem('By a hand');
  const hand = await bench.as('hand');
  expect((await hand.post(`/water/systems/${systemId}/never`, { what: 'doses' })).status).toBe(403);
  expect(siteId).not.toBe('');
});
