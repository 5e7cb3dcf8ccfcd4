import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { dayOf } from '../../src/science/numeric/time.ts';
import { loadFacts } from '../../src/watch/facts/facts.ts';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';

let bench: Bench;
let shelf: Shelf;

beforeAll(async () => {
  bench = await startBench();
  shelf = await makeShelf(bench);
});
afterAll(() => bench.close());

const hoursAgo = (hours: number) => new Date(benchNow.getTime() - hours * 3_600_000);

async function aMethod(quantityCode: string, known: { everyMinutes?: number; laboratory?: string }) {
  const name = `made for the test ${uuidv7()}`;
  return bench.service.db.method.create({ data: { quantityCode, name, absolute: 0.1, ...known } });
}

async function read(quantityCode: string, methodId: string, readings: [Date, number][], kitId?: string) {
  await bench.service.db.reading.createMany({
    data: readings.map(([at, value]) => ({
      systemId: shelf.systemId,
      quantityCode,
      methodId,
      kitId: kitId ?? null,
      at,
      value,
      uncertainty: 0.1,
      enteredText: `${value}`,
      enteredUnit: '',
      createdAt: at,
    })),
  });
}

async function theFacts(now = benchNow) {
  const [facts] = await loadFacts(bench.service.pool, [shelf.systemId], now);
  if (facts === undefined) throw new Error('no facts');
  return facts;
}

describe('facts loaded from the database', () => {
  test('tell of a probe one reading a day, its middle one, and its last two days thinned', async () => {
    const method = await aMethod('temperature', { everyMinutes: 1 });
    const kit = await bench.service.db.kit.create({
      data: { methodId: method.id, label: 'Probe 1', openedAt: hoursAgo(400) },
    });
    const minutes = Array.from({ length: 3 * 24 * 60 }, (_, i): [Date, number] => [
      new Date(benchNow.getTime() - i * 60_000),
      25 + (i % 11) / 10,
    ]);
    await read('temperature', method.id, minutes, kit.id);
    const { readings, probes, temperatures } = await theFacts();
    const told = readings.get('temperature') ?? [];
    expect(told.map(({ value }) => value)).toEqual([25.5, 25.5, 25.5, 25.5]);
    expect(told.every(({ kitId, hand }) => kitId === kit.id && hand === '')).toBe(true);
    expect(probes).toMatchObject([{ kitId: kit.id, everyMinutes: 1, lastDay: dayOf(benchNow) }]);
    const samples = probes[0]?.samples ?? [];
    expect(samples.length).toBeGreaterThan(500);
    expect(samples.length).toBeLessThanOrEqual(600);
    expect(samples.at(-1)?.day).toBeCloseTo(dayOf(benchNow), 9);
    expect(temperatures).toHaveLength(4);
    expect(temperatures[1]?.mean).toBeCloseTo(25.5, 2);
  });

  test('keep the laboratory apart from the farm’s own tests, and leave out what was refuted', async () => {
    const [own, lab] = [await aMethod('iodine', {}), await aMethod('iodine', { laboratory: 'Harbour' })];
    await read('iodine', own.id, [[hoursAgo(50), 0.05]]);
    await read('iodine', lab.id, [[hoursAgo(40), 0.06]]);
    const { id } = await bench.service.db.reading.findFirstOrThrow({ where: { methodId: own.id } });
    expect((await theFacts()).readings.get('iodine')?.map(({ hand }) => hand)).toEqual(['', 'Harbour']);
    await bench.service.db.reading.update({ where: { id }, data: { trust: 'refuted' } });
    expect((await theFacts()).readings.get('iodine')?.map(({ hand }) => hand)).toEqual(['Harbour']);
  });

  test('tell when recurring work was last done, and how a kit is used up', async () => {
    const method = await aMethod('calcium', {});
    const kit = await bench.service.db.kit.create({
      data: {
        methodId: method.id,
        label: 'Calcium 3',
        openedAt: hoursAgo(200),
        uses: 40,
        expiresOn: new Date('2027-01-01'),
      },
    });
    const systemId = shelf.systemId;
    await bench.service.db.routine.createMany({
      data: [
        {
          systemId,
          work: 'test',
          quantityCode: 'calcium',
          detail: {},
          everyDays: 2,
          startsOn: hoursAgo(240),
          createdAt: hoursAgo(240),
        },
        {
          systemId,
          work: 'feeding',
          detail: { food: 'rotifers' },
          everyDays: 1,
          startsOn: hoursAgo(240),
          createdAt: hoursAgo(240),
        },
      ],
    });
    await read(
      'calcium',
      method.id,
      [
        [hoursAgo(90), 420],
        [hoursAgo(30), 421],
      ],
      kit.id,
    );
    const { routines, kits } = await theFacts();
    expect(routines).toMatchObject([
      { words: 'calcium test', lastDay: dayOf(hoursAgo(30)), everyDays: 2 },
      { words: 'feeding of rotifers', lastDay: null },
    ]);
    const fact = kits.find(({ id }) => id === kit.id);
    expect(fact).toMatchObject({
      uses: 40,
      used: 2,
      u: 0.1,
      probe: false,
      expiresDay: dayOf(new Date('2027-01-01')),
    });
    expect((await theFacts(hoursAgo(60))).routines[0]?.lastDay).toBe(dayOf(hoursAgo(90)));
  });

  test('tell of a kit what one water read by it and by the one before, as known then', async () => {
    const method = await aMethod('magnesium', {});
    const open = (label: string) =>
      bench.service.db.kit.create({ data: { methodId: method.id, label, openedAt: hoursAgo(200) } });
    const [before, kit] = [await open('Magnesium 1'), await open('Magnesium 2')];
    await read('magnesium', method.id, [[hoursAgo(90), 1300]], kit.id);
    const pair = { kitId: kit.id, oldKitId: before.id, oldValue: 1300 };
    await bench.service.db.kitPair.createMany({
      data: [
        { ...pair, at: hoursAgo(80), value: 1250 },
        { ...pair, at: hoursAgo(20), value: 1240 },
        { ...pair, at: hoursAgo(10), value: 900, voidedAt: hoursAgo(9), voidReason: 'other water' },
      ],
    });
    const pairs = async (now?: Date) => (await theFacts(now)).kits.find(({ id }) => id === kit.id)?.pairs;
    expect(await pairs()).toMatchObject([
      { day: dayOf(hoursAgo(80)), old: 1300, value: 1250, u: 0.1 },
      { day: dayOf(hoursAgo(20)), old: 1300, value: 1240 },
    ]);
    expect(await pairs(hoursAgo(50))).toHaveLength(1);
  });

  test('leave out steps of a correction that are not done any more', async () => {
    const { db } = bench.service;
    const method = await aMethod('strontium', {});
    await read('strontium', method.id, [[hoursAgo(90), 6]]);
    const reading = await db.reading.findFirstOrThrow({ where: { methodId: method.id } });
    const step = { dueOn: hoursAgo(-24), amount: 5, unit: 'g' };
    await db.correction.create({
      data: {
        systemId: shelf.systemId,
        quantityCode: 'strontium',
        substance: 'solution',
        basis: {},
        readingId: reading.id,
        fromValue: 6,
        targetValue: 8,
        dailyCap: 1,
        capSource: 'made for the test',
        volumeL: 1000,
        startsOn: hoursAgo(48),
        createdAt: hoursAgo(48),
        steps: {
          create: [
            { ...step, position: 1, expectedAfter: 7 },
            {
              ...step,
              position: 2,
              expectedAfter: 8,
              leftOutAt: hoursAgo(10),
              note: 'the level rose by itself',
            },
          ],
        },
      },
    });
    const steps = async (now?: Date) => (await theFacts(now)).corrections[0]?.steps.length;
    expect(await steps()).toBe(1);
    expect(await steps(hoursAgo(20))).toBe(2);
  });

  test('tell a water change of a correction from those of the habit', async () => {
    const { db } = bench.service;
    const changes = [9, 3].map((hours) => ({ systemId: shelf.systemId, at: hoursAgo(hours), volumeL: 100 }));
    const [own, planned] = await db.waterChange.createManyAndReturn({ data: changes });
    const correction = await db.correction.findFirstOrThrow({ where: { systemId: shelf.systemId } });
    await db.correctionStep.create({
      data: {
        correctionId: correction.id,
        position: 3,
        dueOn: hoursAgo(3),
        amount: 100,
        unit: 'L',
        expectedAfter: 8,
        doneAt: hoursAgo(3),
        waterChangeId: planned?.id ?? null,
      },
    });
    const told = (await theFacts()).changes.map(({ id, once }) => [id, once]);
    expect(told).toEqual([
      [own?.id, false],
      [planned?.id, true],
    ]);
  });
});
