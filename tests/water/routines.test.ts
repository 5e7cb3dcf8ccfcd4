import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { dueWork } from '../../src/water/due/due-work.ts';
import {
  evenInterval,
  intervalWords,
  nextDueDay,
  routineCautions,
} from '../../src/water/routines/routines.rules.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from './farm.ts';

describe('the day on which work is due', () => {
  const weekly = { startsDay: 100, everyDays: 7 };
  test('is the first day until something was logged on it or later', () => {
    expect(nextDueDay(weekly, null)).toBe(100);
    expect(nextDueDay(weekly, 97)).toBe(100);
  });
  test('keeps its weekday when it was done a little late or early', () => {
    expect([100, 101, 103, 106, 108].map((done) => nextDueDay(weekly, done))).toEqual([
      107, 107, 107, 114, 114,
    ]);
  });
  test('skips a day of the plan that would come too soon', () => {
    expect(nextDueDay(weekly, 104)).toBe(114);
  });
  test.each([
    ['every day', 1, [[105, 106]]],
    [
      'every second day',
      2,
      [
        [100, 102],
        [101, 102],
        [102, 104],
      ],
    ],
    [
      'twice a week',
      3.5,
      [
        [100, 104],
        [104, 107],
        [107, 111],
      ],
    ],
    [
      'four times a week',
      7 / 4,
      [
        [100, 102],
        [102, 104],
        [104, 106],
        [106, 107],
      ],
    ],
  ])('%s falls on whole days at that pace', (_, everyDays, days) => {
    for (const [done, due] of days) expect(nextDueDay({ startsDay: 100, everyDays }, done ?? 0)).toBe(due);
  });
  test('is at least half an interval after the last time, and at most one and a half, rounded up to a whole day', () => {
    for (const everyDays of [1, 2, 3, 3.5, 5, 7, 14, 30])
      for (let done = 100; done < 200; done++) {
        const gap = nextDueDay({ startsDay: 100, everyDays }, done) - done;
        expect(gap).toBeGreaterThanOrEqual(everyDays / 2);
        expect(gap).toBeGreaterThan(0);
        expect(gap).toBeLessThan(everyDays * 1.5 + 1);
      }
  });
});

describe('an interval', () => {
  test.each([
    [1, 1, 'every day'],
    [7, 7, 'every week'],
    [3.5, 3.5, 'twice a week'],
    [2.33, 7 / 3, 'three times a week'],
    [1.4, 7 / 5, 'five times a week'],
    [2, 2, 'every 2 days'],
    [14, 14, 'every 14 days'],
  ])('typed as %d days is %d, "%s"', (typed, days, words) => {
    expect(evenInterval(typed)).toBeCloseTo(days, 12);
    expect(intervalWords(evenInterval(typed))).toBe(words);
  });
});

describe('the cautions beside a routine', () => {
  const dose = (substance: string) => ({ work: 'dose', substance, amount: 10, unit: 'g' }) as const;
  test.each([
    ['a test', { work: 'test', quantityCode: 'nitrate' } as const, []],
    ['a small change', { work: 'water_change', volumeL: 250 } as const, [/temperature and salinity/]],
    [
      'a change of more than a quarter',
      { work: 'water_change', volumeL: 251 } as const,
      [/temperature and salinity/, /in parts/],
    ],
    ['a dose', dose('magnesium chloride hexahydrate'), [/slowly/]],
    ['a dose of what raises alkalinity', dose('sodium bicarbonate'), [/slowly/, /gloves/]],
    [
      'a dose of a strong base of unknown strength',
      dose('potassium hydroxide solution'),
      [/slowly/, /gloves/],
    ],
  ])('%s', (_, plan, cautions) => {
    const said = routineCautions(plan, 1000);
    expect(said).toEqual(cautions.map((words) => expect.stringMatching(words)));
  });
});

describe('routines of a system', () => {
  let bench: Bench;
  let hand: Visitor;
  let manager: Visitor;
  let systemId: string;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    await makeSystem(bench, 'First');
    hand = await bench.as('hand', 'Bea');
    manager = await bench.as('manager', 'Ines');
  });
  afterAll(() => bench.close());
  beforeEach(async () => {
    bench.at(benchNow);
    systemId = await makeSystem(bench, `Routine ${Math.random()}`);
  });

  const url = () => `/water/systems/${systemId}/routines`;
  const change = {
    work: 'water_change',
    volume: '10',
    volumeUnit: '%',
    everyDays: '7',
    startsOn: '2026-11-24',
  };
  const plan = (form: object) => manager.post(url(), { ...form });
  const due = () => dueWork(bench.service.pool, [systemId], bench.service.now());
  const only = () => bench.service.db.routine.findFirstOrThrow({ where: { systemId, endedAt: null } });

  test('are planned by the manager, and hands see them', async () => {
    expect((await hand.post(url(), change)).status).toBe(403);
    expect((await plan(change)).status).toBe(303);
    const { body } = await hand.get(url());
    expect(body).toContain('Change 100 L of water');
    expect(body).toContain('every week');
    expect(body).not.toContain('Change or end');
  });

  test('a form is filled in by the address that led to it', async () => {
    const { body } = await manager.get(`${url()}/new?work=water_change&volume=180&every=7`);
    expect(body).toMatch(/name="volume"[^>]*value="180"/);
    expect(body).toMatch(/name="everyDays"[^>]*value="7"/);
    expect((await manager.get(`${url()}/new?work=test&quantity=nitrate&every=3.5`)).body).toContain(
      '<option value="nitrate" selected>',
    );
  });

  test('what cannot be is refused beside its field, everything as typed', async () => {
    const much = await plan({ ...change, volume: '2000', volumeUnit: 'L' });
    expect(much.status).toBe(422);
    expect(much.body).toContain('holds 1,000 L');
    expect(much.body).toMatch(/name="volume"[^>]*value="2000"/);
    expect((await plan({ ...change, everyDays: '0' })).body).toContain('every how many days');
    await plan(change);
    const twice = await plan(change);
    expect(twice.status).toBe(409);
    expect(twice.body).toContain('already planned for this system');
  });

  test('a change ends the plan and makes another, so that the history keeps both', async () => {
    await plan(change);
    const before = await only();
    const form = { ...change, volume: '150', volumeUnit: 'L', version: before.version };
    expect((await manager.post(`/water/routines/${before.id}`, form)).status).toBe(303);
    expect((await manager.post(`/water/routines/${before.id}`, form)).status).toBe(409);
    const all = await bench.service.db.routine.findMany({
      where: { systemId },
      orderBy: { createdAt: 'asc' },
    });
    expect(all.map(({ endedAt, detail }) => [endedAt !== null, detail])).toEqual([
      [true, { volumeL: 100 }],
      [false, { volumeL: 150 }],
    ]);
    expect((await manager.post(`/water/routines/${(await only()).id}/end`, { version: 1 })).status).toBe(303);
    expect(await due()).toEqual([]);
    expect((await hand.get(url())).body).toContain('Ended in the last year');
  });

  test('are due on their day, done when something of the kind is logged anywhere, overdue when not', async () => {
    await plan(change);
    await plan({ work: 'test', quantityCode: 'nitrate', everyDays: '7', startsOn: '2026-11-26' });
    expect(await due()).toMatchObject([
      { work: 'water_change', done: false, overdueDays: 0, dueOn: '2026-11-24' },
    ]);
    bench.at('2026-11-27T08:00:00Z');
    expect(await due()).toMatchObject([
      { work: 'water_change', overdueDays: 3 },
      { work: 'test', title: 'Test nitrate', overdueDays: 1 },
    ]);
    await hand.send('/api/water-changes', { systemId, amount: 90, unit: 'L' });
    expect(await due()).toMatchObject([
      { work: 'test', done: false },
      { work: 'water_change', done: true, overdueDays: 0 },
    ]);
    bench.at('2026-11-28T08:00:00Z');
    expect((await due()).map(({ work }) => work)).toEqual(['test']);
  });

  test('a dose is known by what it raises, a feeding by its food and tank; a voided entry does not count', async () => {
    const { id: tankId } = await bench.service.db.tank.create({
      data: { systemId, name: 'Tank 1', lengthMm: 1000, widthMm: 500, heightMm: 400 },
    });
    await plan({ work: 'dose', substance: 'sodium bicarbonate', amount: '20', unit: 'g', everyDays: '1' });
    await plan({ work: 'feeding', food: 'Chopped shrimp', tankId, pumpsOffMin: '20', everyDays: '2' });
    const [dose, feeding] = await due();
    expect(dose?.title).toBe('Dose 20 g sodium bicarbonate');
    expect(dose?.cautions.join()).toContain('gloves');
    expect(feeding?.title).toBe('Feed Chopped shrimp, Tank 1');
    await hand.send('/api/doses', { systemId, substance: 'sodium carbonate', amount: 10, unit: 'g' });
    const { id: other } = await bench.service.db.tank.create({
      data: { systemId, name: 'Tank 2', lengthMm: 1000, widthMm: 500, heightMm: 400 },
    });
    await hand.send('/api/feedings', { systemId, food: 'Fine food', tankId: other });
    expect((await due()).map(({ done }) => done)).toEqual([true, false]);
    await hand.send('/api/feedings', { systemId, food: 'Fine food', tankId });
    expect((await due()).map(({ done }) => done)).toEqual([true, false]);
    await hand.send('/api/feedings', { systemId, food: 'chopped shrimp', tankId });
    expect((await due()).map(({ done }) => done)).toEqual([true, true]);
    await bench.service.db.dose.updateMany({
      where: { systemId },
      data: { voidedAt: benchNow, voidReason: 'typed twice' },
    });
    expect((await due()).map(({ done }) => done)).toEqual([false, true]);
  });

  test('are planned, listed and ended as JSON, once under one key', async () => {
    const key = { 'idempotency-key': '00000000-0000-4000-8000-000000000001' };
    const body = { systemId, ...change };
    const first = await manager.send('/api/routines', body, key);
    expect(first.status).toBe(201);
    expect((await manager.send('/api/routines', body, key)).json()).toEqual(first.json());
    expect((await hand.get(`/api/routines?systemId=${systemId}`)).json()).toMatchObject({
      running: [{ plan: { work: 'water_change', volumeL: 100 }, dueOn: '2026-11-24' }],
    });
    expect((await hand.get(`/api/systems/${systemId}/due`)).json()).toMatchObject({
      tasks: [{ title: 'Change 100 L of water' }],
    });
    const { id } = first.json() as { id: string };
    expect((await manager.send(`/api/routines/${id}/end`, { version: 1 })).status).toBe(200);
  });
});
