import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { afterWaterChanges } from '../../src/science/dilution.ts';
import { addWaterChange } from '../../src/water/log/water-changes.ts';
import {
  countToReach,
  followPlan,
  holdingSchedule,
  type NutrientPlan,
  type NutrientState,
  outcomeOf,
  removalToReach,
} from '../../src/water/nutrients/projection.rules.ts';
import { suggestedPlans } from '../../src/water/nutrients/scenarios.rules.ts';
import { nutrientTarget } from '../../src/water/nutrients/target.rules.ts';
import { bandWords, phosphateShortageWords } from '../../src/water/nutrients/words.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';
import { layGround, lot, place } from '../farm/ground.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

const state: NutrientState = {
  level: 30,
  levelSd: 1,
  production: 0.4,
  productionSd: 0.05,
  cov: 0,
  makeUp: 0,
};
const still: NutrientPlan = {
  first: { fraction: 0, everyDays: 3, count: 0 },
  later: { fraction: 0, everyDays: 7 },
  removed: 0,
  feeding: 0,
  dosed: 0,
};

describe('what is wanted without a band', () => {
  const wanted = (...living: { kind: string; low: number | null; high: number | null }[]) =>
    nutrientTarget('nitrate', undefined, null, living);
  const branching = { kind: 'Acropora tenuis', low: 1, high: 5 };
  const fleshy = { kind: 'Lobophyllia hemprichii', low: 5, high: 15 };
  const unsaid = { kind: 'Xenia umbellata', low: null, high: null };

  test('names only kinds whose care says something of it', () => {
    expect(wanted(branching, unsaid).source).toContain('as the care of Acropora tenuis asks');
    expect(wanted(unsaid).source).toBe(
      'the middle of 1 to 20 mg/L, common practice for any reef water: the care of what lives here says nothing of it, and no target band is set',
    );
    expect(wanted().source).toContain('what lives here is not known');
  });

  test('is one number in whatever order the lots come, where kinds exclude each other', () => {
    expect(wanted(fleshy, branching)).toEqual(wanted(branching, fleshy));
  });
});

describe('a plan for a nutrient', () => {
  test('follows changes as the dilution model does, and production between them', () => {
    const plan = { ...still, first: { fraction: 0.2, everyDays: 1, count: 5 } };
    const [last] = followPlan({ ...state, production: 0 }, plan, 4).slice(-1);
    expect(last?.value).toBeCloseTo(afterWaterChanges(30, 0, 0.2, 5), 10);
    const [rising] = followPlan(state, still, 10).slice(-1);
    expect(rising?.value).toBeCloseTo(34, 10);
    expect((rising?.high ?? 0) - (rising?.value ?? 0)).toBeCloseTo(1.96 * Math.hypot(1, 10 * 0.05), 10);
  });

  test('tends to the mean of the saw-tooth that the habit settles to', () => {
    const plan = { ...still, later: { fraction: 0.25, everyDays: 7 } };
    const { settlesAt } = outcomeOf(state, plan, { target: 10, down: true, days: 60 });
    // Just before a change p d / f, just after it p d less: as doses add up in pharmacokinetics (Rowland & Tozer).
    const made = 0.4 * 7;
    expect(settlesAt).toBeCloseTo(made / 0.25 - made / 2, 10);
  });

  test('says how many changes it takes, and holds the level afterwards', () => {
    const { a } = suggestedPlans(state, { target: 8, down: true }, { fraction: 0.1, everyDays: 7 }, 1);
    // By hand: 30 x 0.8 = 24, then (24 + 3 x 0.4) x 0.8 = 20.16 and so on, 6.45 after the twelfth. The weekly changes
    // after them let the level swing by 2.8 around 8, so the first ones go down to 6.6.
    expect(a.later.everyDays).toBe(7);
    expect(a.first.count).toBe(12);
    expect(countToReach(state, a.first, 6.6)).toBe(12);
    expect(countToReach(state, { fraction: 0.01, everyDays: 7 }, 6.6)).toBeNull();
    const { reachedDay, settlesAt } = outcomeOf(state, a, { target: 8, down: true, days: 90 });
    expect(reachedDay).not.toBeNull();
    expect(reachedDay ?? 0).toBeLessThanOrEqual(3 * a.first.count);
    expect(settlesAt).toBeLessThanOrEqual(8);
    expect(settlesAt).toBeGreaterThan(6.5);
    expect(holdingSchedule({ ...state, makeUp: 9 }, 8)).toBeNull();
  });

  test('finds what skimming must take out beside the habit, exactly', () => {
    const plan = { ...still, later: { fraction: 0.1, everyDays: 7 } };
    const removed = removalToReach(state, plan, 10, 42);
    const [end] = followPlan(state, { ...plan, removed }, 42).slice(-1);
    expect(end?.value).toBeCloseTo(10, 8);
    expect(removalToReach({ ...state, level: 5, production: 0 }, plan, 10, 42)).toBe(0);
  });

  test('never goes below nothing, and feeds first where the water is starved', () => {
    const points = followPlan({ ...state, level: 1 }, { ...still, removed: 2 }, 30);
    expect(Math.min(...points.map(({ value }) => value))).toBe(0);
    const { a, b } = suggestedPlans(
      { ...state, level: 1 },
      { target: 5, down: false },
      { fraction: 0.1, everyDays: 7 },
      1,
    );
    expect([a.feeding, a.dosed, b.dosed]).toEqual([0.25, 0, 0]);
    expect(b.later.everyDays).toBe(14);
  });

  test('keeps first changes within what the make-up water allows', () => {
    const { a } = suggestedPlans(state, { target: 8, down: true }, { fraction: 0.1, everyDays: 7 }, 0.12);
    expect(a.first.fraction).toBeCloseTo(0.12, 10);
  });

  test('is not called quiet while the habit of late leads out of the band', () => {
    const nitrate = quantities().find(({ code }) => code === 'nitrate') as unknown as Quantity;
    const said = (settlesAt: number | null) =>
      bandWords(nitrate, { level: 16, settlesAt }, { low: 1, high: 25 });
    expect(said(26.4)).toEqual({
      says: 'Within the target band, 1.0 to 25.0 mg/L as NO₃, but with the recent water changes it settles at 26.4 mg/L as NO₃.',
      quiet: false,
    });
    expect(said(null).says).toContain('it goes on rising');
    expect(said(12).quiet).toBe(true);
  });

  test('is not called quiet while the watch asks for a look at it', () => {
    const nitrate = quantities().find(({ code }) => code === 'nitrate') as unknown as Quantity;
    const { says, quiet } = bandWords(nitrate, { level: 16, settlesAt: 12 }, { low: 1, high: 25 }, true);
    expect(quiet).toBe(false);
    expect(says).toMatch(/but there is an alert on it\.$/);
  });

  test('names nitrogen without phosphorus, the pair that harms', () => {
    expect(phosphateShortageWords({ value: 12, below: false }, { value: 0.02, below: true }, 0.03)).toMatch(
      /^Nitrogen is there/,
    );
    expect(phosphateShortageWords({ value: 12, below: false }, { value: 0.05, below: false }, 0.03)).toBe('');
  });
});

describe('the planner', () => {
  let bench: Bench;
  let manager: Visitor;
  let systemId: string;
  const daysAgo = (days: number) => new Date(Date.parse('2026-11-24T07:00:00Z') - days * 86_400_000);
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    systemId = await makeSystem(bench);
    manager = await bench.as('manager');
  });
  afterAll(() => bench.close());
  const page = async (query: string) => {
    const answer = await manager.get(`/water/systems/${systemId}/nutrients?${query}`);
    return { status: answer.status, body: withoutMarks(answer.body).replace(/\s+/g, ' ') };
  };

  test('asks for a test where nothing was read', async () => {
    expect((await page('quantity=nitrate')).body).toContain('Nitrate was never read here.');
  });

  test('says a level of all tests together as such, with what the last one read', async () => {
    const other = await makeSystem(bench, 'Last one higher');
    for (const [i, text] of ['10', '11', '10.5', '11', '10', '11', '14.0'].entries())
      await read(bench, other, daysAgo(13 - 2 * i).toISOString(), 'nitrate', text);
    const body = withoutMarks((await manager.get(`/water/systems/${other}/nutrients`)).body);
    expect(body).toMatch(
      /1[0-3]\.\d mg\/L as NO₃ now, estimated ± \d\.\d mg\/L as NO₃, by all tests together; the last one read 14\.0 mg\/L/,
    );
    expect(body).not.toContain('by the last reading');
  });

  test('offers exports in their order with number, size and date, and leads to the routine', async () => {
    for (const [day, text] of [
      [28, '24'],
      [21, '26.8'],
      [14, '26.9'],
      [7, '27.1'],
      [0, '27.1'],
    ] as const)
      await read(bench, systemId, daysAgo(day).toISOString(), 'nitrate', text);
    for (const day of [20, 13, 6])
      await bench.change((work) =>
        addWaterChange(work, systemId, { amount: 10, unit: '%', at: daysAgo(day), note: '' }),
      );
    const { body } = await page('quantity=nitrate');
    expect(body).toContain('Wanted: 8.5 mg/L as NO₃, the middle of the target band.');
    expect(body).toMatch(/\d changes of 20 % \(200 L\), one every 3 days; then one of \d+ % \(\d+ L\) every/);
    expect(body).toMatch(/Water changes first:.*Then skim wetter.*Feed less last/);
    expect(body).toMatch(/Reaches 8\.5 mg\/L as NO₃ about \d+ Dec 2026/);
    expect(body).toMatch(
      /routines\/new\?work&#x3D;water_change&amp;volume&#x3D;\d+&amp;volumeUnit&#x3D;%25&amp;every&#x3D;/,
    );
  });

  test('follows what is typed, and says beside the field what cannot be', async () => {
    const typed = (size: string) =>
      `quantity=nitrate&target=10&${['a', 'b'].map((plan) => `${plan}-size=${size}&${plan}-every=3&${plan}-count=2&${plan}-thenSize=10&${plan}-thenEvery=7&${plan}-removed=0&${plan}-feeding=0&${plan}-dosed=0`).join('&')}`;
    const good = await page(typed('40'));
    expect(good.status).toBe(200);
    expect(good.body).toContain(
      '2 changes of 40 % (400 L), one every 3 days; then one of 10 % (100 L) every 7 days.',
    );
    expect(good.body).toContain('More than 30 % is hard on the stock');
    const bad = await page(typed('400'));
    expect(bad.status).toBe(422);
    expect(bad.body).toContain('Enter the size of the first changes as a number from 0 to 80 %.');
    expect(bad.body).toContain('value="400"');
    expect((await page('quantity=nitrate&target=12')).status).toBe(200);
  });

  test('takes the level wanted from what lives in the water, and says so where that is not known', async () => {
    const { db } = bench.service;
    const ground = await layGround(bench);
    const at = daysAgo(1).toISOString();
    await read(bench, ground.systemId, at, 'nitrate', '6');
    const wanted = async () => {
      const { body } = await manager.get(`/water/systems/${ground.systemId}/nutrients?quantity=nitrate`);
      return /Wanted: ([^<]*?)\.(?: |<|$)/.exec(withoutMarks(body).replace(/\s+/g, ' '))?.[1];
    };
    // Ranges of the care library (common practice); the middle by ratio: 20 ^ 0.5 = 4.5, 40 ^ 0.5 = 6.3.
    expect(await wanted()).toMatch(
      /^4\.5 mg\/L as NO₃, the middle of 1 to 20 mg\/L, .* what lives here is not known/,
    );
    const settle = async (name: string, slot: string) => {
      const id = await lot(bench, ground.siteId);
      const kind = await db.kind.findFirstOrThrow({ where: { name } });
      await db.lot.update({ where: { id }, data: { kindId: kind.id } });
      await place(bench, id, [ground.slots[slot]], at);
    };
    await settle('Acropora tenuis', 'A1');
    expect(await wanted()).toMatch(
      /^4\.5 mg\/L as NO₃, the middle of 1 to 20 mg\/L, as the care of Acropora tenuis asks/,
    );
    await settle('Platygyra daedalea', 'A2');
    expect(await wanted()).toMatch(
      /^6\.3 mg\/L as NO₃, the middle of 2 to 20 mg\/L, as the care of Acropora tenuis and Platygyra daedalea asks/,
    );
  });
});
