import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { nextNames } from '../../src/farm/racks/names.rules.ts';
import { fieldsOf } from '../support/forms.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let manager: Visitor;
let systemId: string;
let smallId: string;
let tankId: string;
let rackId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  const { db } = bench.service;
  systemId = await makeSystem(bench, 'Long run');
  smallId = await makeSystem(bench, 'Small water');
  await db.system.update({ where: { id: smallId }, data: { volumeL: 250 } });
  const size = { lengthMm: 2400, widthMm: 600, heightMm: 400 };
  tankId = (await db.tank.create({ data: { systemId, name: 'Tank 1', ...size } })).id;
  await db.tank.create({ data: { systemId: smallId, name: 'Small tank', ...size } });
  manager = await bench.as('manager', 'Ines Varga');
  const racks = {
    name: 'R1',
    rows: '2',
    columns: '3',
    depthMm: '15',
    base: 'egg_crate',
    slotWidthMm: '5',
    slotDepthMm: '5',
  };
  await manager.post(`/farm/tanks/${tankId}/racks`, racks);
  rackId = (await db.rack.findFirstOrThrow({ where: { name: 'R1' } })).id;
  await db.slot.updateMany({ where: { rackId, row: 1 }, data: { flow: 'high', jet: true } });
});
afterAll(() => bench.close());

const racksOf = (tank: string) =>
  bench.service.db.rack.findMany({
    where: { tankId: tank },
    orderBy: { name: 'asc' },
    include: { slots: true, lamp: true },
  });

describe('names of copies', () => {
  test.each([
    ['R1', ['R1', 'R3'], ['R2', 'R4', 'R5']],
    ['A 09', [], ['A 10', 'A 11', 'A 12']],
    ['Long tank', ['Long tank'], ['Long tank 2', 'Long tank 3', 'Long tank 4']],
  ])('of %s, where %j are there', (name, taken, names) => {
    expect(nextNames(name, taken, 3)).toEqual(names);
  });
});

describe('copies of a rack', () => {
  test('are proposed by name, and made with grid, size, depth and the flow of each slot', async () => {
    const at = `/farm/racks/${rackId}/copies`;
    const typed = fieldsOf((await manager.get(at)).body, at);
    expect(typed.names).toEqual(['R2\nR3\nR4']);
    expect((await manager.post(at, { names: 'R2\nR3\nBack shelf', tankId })).status).toBe(303);
    const copies = (await racksOf(tankId)).filter(({ name }) => name !== 'R1');
    expect(copies.map(({ name }) => name)).toEqual(['Back shelf', 'R2', 'R3']);
    for (const copy of copies) {
      expect(copy).toMatchObject({ rows: 2, columns: 3, depthMm: 150, slotWidthMm: 50, leftMm: null });
      expect(copy.slots.filter(({ flow, jet }) => flow === 'high' && jet)).toHaveLength(3);
      expect(copy.slots.filter(({ flow }) => flow === null)).toHaveLength(3);
    }
    expect((await manager.get(`/racks/${copies[0]?.id}`)).status).toBe(200);
  });

  test('under a name that is there, or twice the same name, are refused and keep what was typed', async () => {
    const at = `/farm/racks/${rackId}/copies`;
    const there = await manager.post(at, { names: 'R9\nR2', tankId });
    expect(there.status).toBe(422);
    expect(there.body).toContain('R2 is in this tank already');
    expect(fieldsOf(there.body, at).names).toEqual(['R9\nR2']);
    expect((await manager.post(at, { names: 'R9\nr9', tankId })).body).toContain(
      'Two copies have the same name',
    );
  });
});

test('a tank is copied with its racks, and without its lamps', async () => {
  const at = `/farm/tanks/${tankId}/copies`;
  expect(fieldsOf((await manager.get(`${at}?count=1`)).body, at).names).toEqual(['Tank 2']);
  expect((await manager.post(at, { names: 'Tank 2', withRacks: 'yes' })).status).toBe(303);
  const copy = await bench.service.db.tank.findFirstOrThrow({ where: { name: 'Tank 2' } });
  expect(copy).toMatchObject({ systemId, lengthMm: 2400 });
  expect((await racksOf(copy.id)).map(({ name }) => name)).toEqual(
    (await racksOf(tankId)).map(({ name }) => name),
  );
});

test('the flow of whole racks is set in one step', async () => {
  const racks = (await racksOf(tankId)).filter(({ name }) => name !== 'R1').map(({ id }) => id);
  expect((await manager.post(`/farm/tanks/${tankId}/flow`, { racks, flow: 'medium' })).status).toBe(303);
  for (const rack of await racksOf(tankId))
    expect(rack.slots.every(({ flow }) => flow === 'medium')).toBe(rack.name !== 'R1');
  expect((await manager.post(`/farm/tanks/${tankId}/flow`, { flow: 'medium' })).status).toBe(422);
});

test('one lamp a rack hangs in one step, all alike, since a day', async () => {
  const racks = (await racksOf(tankId)).map(({ id }) => id);
  const lamp = {
    model: 'Bar 90',
    heightMm: '25',
    percent: '60',
    litHours: '10',
    rampHours: '1',
    since: '2026-11-01T08:00',
  };
  const answer = await manager.post(`/farm/tanks/${tankId}/lamps/each`, { ...lamp, racks });
  expect(answer.status, answer.body).toBe(303);
  const lit = await racksOf(tankId);
  expect(lit.map((rack) => rack.lamp?.name)).toEqual(lit.map(({ name }) => `Lamp of ${name}`));
  expect(lit[0]?.lamp).toMatchObject({ model: 'Bar 90', heightMm: 250, litHours: 10 });
  const settings = await bench.service.db.lampSetting.findMany();
  expect(settings.map(({ at, percent }) => [at.toISOString(), percent])).toEqual(
    lit.map(() => ['2026-11-01T08:00:00.000Z', 60]),
  );
  const again = `/farm/tanks/${tankId}/lamps/each`;
  const like = fieldsOf((await manager.get(`${again}?like=${lit[0]?.lampId}`)).body, again);
  expect(like).toMatchObject({ model: ['Bar 90'], percent: ['60'], heightMm: ['25'] });
});

describe('of a system to others', () => {
  const bandOf = async (id: string) =>
    (
      await bench.service.db.systemQuantity.findMany({
        where: { systemId: id },
        orderBy: { quantityCode: 'asc' },
      })
    ).map(({ quantityCode, bandLow, bandHigh, source }) => [quantityCode, bandLow, bandHigh, source]);

  test('targets: what is there is named, left alone or replaced as chosen', async () => {
    const { db } = bench.service;
    const key = { systemId_quantityCode: { systemId, quantityCode: 'alkalinity' } };
    await db.systemQuantity.update({ where: key, data: { source: 'our own choice' } });
    await db.systemQuantity.deleteMany({ where: { systemId: smallId, quantityCode: 'nitrate' } });
    await db.systemQuantity.updateMany({ where: { systemId: smallId }, data: { bandLow: 2.4 } });
    const at = `/water/systems/${systemId}/targets/copies`;
    expect((await manager.get(at)).body).toContain('Has already: Alkalinity');
    expect((await manager.post(at, { systems: smallId, there: 'leave' })).status).toBe(303);
    expect((await bandOf(smallId)).map(([code, low]) => [code, low])).toEqual([
      ['alkalinity', 2.4],
      ['nitrate', 2],
    ]);
    await manager.post(at, { systems: smallId, there: 'replace' });
    expect(await bandOf(smallId)).toEqual(await bandOf(systemId));
    expect((await manager.post(at, { there: 'leave' })).body).toContain('Tick the systems that get it');
  });

  test('routines: scaled by volume, the same work left alone or replaced', async () => {
    const { db } = bench.service;
    const plan = (id: string, work: Record<string, unknown>) =>
      manager.post(`/water/systems/${id}/routines`, { startsOn: '2026-11-20', ...work });
    expect(
      (await plan(systemId, { work: 'water_change', volume: '100', volumeUnit: 'L', everyDays: '7' })).status,
    ).toBe(303);
    await plan(systemId, { work: 'test', quantityCode: 'alkalinity', weekdays: ['1', '4'] });
    await plan(systemId, {
      work: 'dose',
      substance: 'sodium bicarbonate',
      amount: '12',
      unit: 'g',
      everyDays: '1',
    });
    await plan(smallId, { work: 'water_change', volume: '5', volumeUnit: 'L', everyDays: '7' });
    const at = `/water/systems/${systemId}/routines/copies`;
    expect((await manager.post(at, { systems: smallId, there: 'leave' })).status).toBe(303);
    const running = () =>
      db.routine.findMany({ where: { systemId: smallId, endedAt: null }, orderBy: { work: 'asc' } });
    // 12 g in 1,000 L are 3 g in 250 L.
    expect((await running()).map(({ work, detail }) => [work, detail])).toEqual([
      ['dose', { substance: 'sodium bicarbonate', amount: 3, unit: 'g' }],
      ['test', {}],
      ['water_change', { volumeL: 5 }],
    ]);
    await manager.post(at, { systems: smallId, there: 'replace' });
    expect((await running()).find(({ work }) => work === 'water_change')?.detail).toEqual({ volumeL: 25 });
    expect(await running()).toHaveLength(3);
  });

  test('a round plan: one for each system, past its tanks', async () => {
    const { db } = bench.service;
    const site = await db.site.findFirstOrThrow();
    const { id } = await db.roundPlan.create({
      data: {
        siteId: site.id,
        name: 'Morning',
        startsAt: '08:00',
        weekdays: [1, 2],
        steps: ['look', 'test'],
        tanks: { create: { tankId, position: 0 } },
      },
    });
    const at = `/rounds/plans/${id}/copies`;
    expect((await manager.get(at)).body).toContain('Has already: Morning');
    expect((await manager.post(at, { systems: smallId, there: 'leave' })).status).toBe(303);
    const copy = await db.roundPlan.findFirstOrThrow({
      where: { name: 'Morning, Small water' },
      include: { tanks: true },
    });
    expect(copy).toMatchObject({ startsAt: '08:00', weekdays: [1, 2], steps: ['look', 'test'] });
    expect(copy.tanks).toHaveLength(1);
    const again = await manager.post(at, { systems: smallId, there: 'leave' });
    expect(again.status).toBe(422);
    expect(again.body).toContain('all of it was left alone (Morning, Small water)');
    expect((await manager.post(at, { systems: smallId, there: 'replace' })).status).toBe(303);
    expect(await db.roundPlan.count()).toBe(2);
  });

  test('a round plan with the longest name: its copies keep the names of their systems, and it stays as it is', async () => {
    const { db } = bench.service;
    const thirdId = await makeSystem(bench, 'Third water');
    const size = { lengthMm: 2400, widthMm: 600, heightMm: 400 };
    await db.tank.create({ data: { systemId: thirdId, name: 'Third tank', ...size } });
    const name = 'n'.repeat(60);
    const { id } = await db.roundPlan.create({
      data: {
        siteId: (await db.system.findUniqueOrThrow({ where: { id: systemId } })).siteId,
        ...{ name, startsAt: '08:00', weekdays: [1], steps: ['look'] },
        tanks: { create: { tankId, position: 1 } },
      },
    });
    const at = `/rounds/plans/${id}/copies`;
    const answer = await manager.post(at, { systems: [smallId, thirdId], there: 'replace' });
    expect(answer.status, answer.body).toBe(303);
    const plans = await db.roundPlan.findMany({
      where: { name: { startsWith: 'nnn' } },
      orderBy: { name: 'asc' },
      include: { tanks: { include: { tank: true } } },
    });
    expect(plans.map((plan) => [plan.name, plan.tanks.map(({ tank }) => tank.name)])).toEqual([
      [`${'n'.repeat(47)}, Small water`, ['Small tank']],
      [`${'n'.repeat(47)}, Third water`, ['Third tank']],
      [name, ['Tank 1']],
    ]);
  });
});

describe('sizes of slots of many racks', () => {
  test('are set at once, those without one ticked, and asked about where racks then stick out or overlap', async () => {
    const { db } = bench.service;
    const bare = { rows: 10, columns: 16, depthMm: 150 };
    for (const name of ['W1', 'W2']) await db.rack.create({ data: { tankId, name, ...bare } });
    const body = (await manager.get('/farm/slot-sizes')).body;
    const ids = (await db.rack.findMany({ where: { name: { in: ['W1', 'W2'] } } })).map(({ id }) => id);
    const ticked = (id: string) => new RegExp(`value="${id}" checked`).test(body);
    expect(ids.map(ticked)).toEqual([true, true]);
    expect(ticked(rackId)).toBe(false);
    const seen = /name="seen" value="([^"]+)"/.exec(body)?.[1] ?? '';
    const wide = { racks: ids, slotWidthMm: '20', slotDepthMm: '4', seen };
    const asked = await manager.post('/farm/slot-sizes', wide);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('W1: It ends 320 cm from the left, and Tank 1 is 240 cm long.');
    expect(asked.body).toContain('They really are that large and lie so');
    expect(asked.body).toMatch(/name="slotWidthMm"[^>]*value="20"/);
    expect((await manager.post('/farm/slot-sizes', { ...wide, slotWidthMm: '4' })).status).toBe(303);
    const sizes = await db.rack.findMany({ where: { id: { in: ids } } });
    expect(sizes.map(({ slotWidthMm, slotDepthMm }) => [slotWidthMm, slotDepthMm])).toEqual([
      [40, 40],
      [40, 40],
    ]);
    expect((await manager.post('/farm/slot-sizes', { ...wide, slotWidthMm: '5' })).status).toBe(409);
    expect((await manager.post('/farm/slot-sizes', { ...wide, racks: [] })).body).toContain(
      'Tick the racks that have it.',
    );
  });
});
