import { afterAll, beforeAll, expect, test } from 'vitest';
import { addDose } from '../../src/water/log/doses.ts';
import { addWaterChange } from '../../src/water/log/water-changes.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

// Steady readings say nothing of what is used or made while nobody wrote down what was put in or taken out.
let bench: Bench;
let hand: Visitor;
let systemId: string;
const daysAgo = (days: number) => new Date(benchNow.getTime() - days * 86_400_000);

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  hand = await bench.as('hand');
  for (const days of [12, 9, 6, 3, 0]) {
    await read(bench, systemId, daysAgo(days).toISOString(), 'alkalinity', '8.2');
    await read(bench, systemId, daysAgo(days).toISOString(), 'nitrate', '8');
  }
});
afterAll(() => bench.close());

const page = async (path: string) =>
  (await hand.get(`/water/systems/${systemId}/${path}`)).body.replace(/\s+/g, ' ');

test('steady alkalinity without a dose on record is no proof that nothing is used', async () => {
  const demand = await page('demand');
  expect(demand).toContain('No doses are recorded, so use cannot be judged.');
  expect(demand).toContain('use is not known');
  expect(demand).not.toContain('no use measurable');
  expect(demand).not.toContain('No dosing needed by these tests');
  const told = (await hand.get(`/api/systems/${systemId}/demand`, { accept: 'application/json' })).json() as {
    quantities: { means: string }[];
  };
  expect(told.quantities[0]?.means).toContain('No doses are recorded');
});

test('with a doser on the books its log is asked for', async () => {
  await bench.service.db.equipment.create({ data: { systemId, kind: 'doser', name: 'Dosing pump' } });
  expect(await page('demand')).toContain(
    'This system has a doser or a routine of dosing: log what is given, and since when.',
  );
});

test('a fall beside a doser without a log is a fall, and nothing that was used', async () => {
  const falling = await makeSystem(bench, 'Doser, falling');
  await bench.service.db.equipment.create({
    data: { systemId: falling, kind: 'doser', name: 'Dosing pump' },
  });
  for (const [days, text] of [
    [12, '8.9'],
    [9, '8.6'],
    [6, '8.4'],
    [3, '8.1'],
    [0, '7.8'],
  ] as const)
    await read(bench, falling, daysAgo(days).toISOString(), 'alkalinity', text);
  const demand = (await hand.get(`/water/systems/${falling}/demand`)).body;
  expect(demand).toContain('use is not known');
  expect(demand).toContain('Fall of alkalinity a day, use not known');
  expect(demand).not.toMatch(/are used|Alkalinity used a day|0\.00 dKH, as logged/);
});

test('what feeding brings is not known while no water change is on record', async () => {
  for (const path of ['demand', 'nutrients?quantity=nitrate'])
    expect(await page(path)).toContain('no water changes are recorded, so what is made a day is not known');
});

test('where production is not known, nothing is said of where the level goes, and no feeding is advised for it', async () => {
  await bench.service.db.systemQuantity.upsert({
    where: { systemId_quantityCode: { systemId, quantityCode: 'nitrate' } },
    create: { systemId, quantityCode: 'nitrate', bandLow: 5, bandHigh: 20, source: 'test' },
    update: { bandLow: 5, bandHigh: 20 },
  });
  const nutrients = await page('nutrients?quantity=nitrate');
  expect(nutrients).toContain('Where it goes from here is not known.');
  expect(nutrients).not.toMatch(/settles at|levels off at|keeps around/);
});

test('what is logged is judged', async () => {
  await bench.change((work) =>
    addDose(work, systemId, {
      ...{ substance: 'sodium bicarbonate', amount: 15, unit: 'g', quantityCode: '', rise: null, note: '' },
      at: daysAgo(7),
    }),
  );
  const change = { amount: 10, unit: '%' as const, at: daysAgo(5), note: '' };
  await bench.change((work) => addWaterChange(work, systemId, change));
  const demand = await page('demand');
  expect(demand).not.toContain('No doses are recorded');
  expect(demand).not.toContain('production is not known');
});

test('a log of doses that begins on the last of these days says nothing of the days before', async () => {
  const late = await makeSystem(bench, 'Late log');
  for (const days of [12, 9, 6, 3, 1])
    await read(bench, late, daysAgo(days).toISOString(), 'alkalinity', '8.2');
  const dose = { substance: 'sodium bicarbonate', amount: 12, unit: 'g' as const, quantityCode: '' };
  await bench.change((work) =>
    addDose(work, late, { ...dose, rise: null, note: '', at: daysAgo(1.2), reason: 'begun' }),
  );
  const demand = (await hand.get(`/water/systems/${late}/demand`)).body;
  expect(demand).toContain('No doses are recorded for most of these days, so use cannot be judged.');
  expect(demand).not.toContain('No dosing needed by these tests');
});

test('doses whose log ends before the last test say nothing of the use, and a long silence nothing of today', async () => {
  const quiet = await makeSystem(bench, 'Log that ends');
  for (let days = 40; days >= 16; days -= 1) {
    const at = daysAgo(days);
    await read(bench, quiet, at.toISOString(), 'alkalinity', days % 2 ? '8.3' : '8.2');
    await bench.change((work) =>
      addDose(work, quiet, {
        ...{ substance: 'sodium bicarbonate', amount: 9, unit: 'g', quantityCode: '', rise: null },
        ...{ at: new Date(at.getTime() + 3_600_000), note: '', reason: 'as each day' },
      }),
    );
  }
  const demand = async () => (await hand.get(`/water/systems/${quiet}/demand`)).body.replace(/\s+/g, ' ');
  const silent = await demand();
  expect(silent).toContain('Tested 16 days ago for the last time, so this is how it was.');
  expect(silent).toContain('As last tested');
  expect(silent).not.toContain('the doses as logged give that');
  await read(bench, quiet, daysAgo(0).toISOString(), 'alkalinity', '7.2');
  const after = await demand();
  expect(after).toMatch(/falls by [0-9.]+ dKH a day \([^)]*\); use is not known/);
  expect(after).toMatch(/No dose was logged in the 16 days before the last test, so use cannot be judged\./);
});
