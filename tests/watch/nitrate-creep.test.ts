import { describe, expect, test } from 'vitest';
import { nitrateCreep } from '../../src/watch/rules/nitrate/nitrate-creep.ts';
import { exchangePlan } from '../../src/water/nutrients/scenarios.rules.ts';
import { type CreepPlan, creepWorld, median } from '../science/worlds.ts';
import { blankSystem, find, firing, reading, waterChange } from './facts.ts';

// Worlds and delays: the simulation study in DEVELOPERS.md (10 % tests twice a week, weekly changes of 10 to 15 %).

const usual = { days: 330, onset: 240, gap: 3.5 };

function factsOf(plan: CreepPlan, until: number, logged = true) {
  const { log } = creepWorld(plan);
  const [, ...later] = log.kitOpenings ?? [];
  const kitAt = (day: number) => `kit ${later.filter((opened) => opened <= day).length}`;
  return blankSystem({
    kept: new Map([
      ['nitrate', { bandLow: 2, bandHigh: 20, limitHigh: 30, makeUp: 0.5, source: 'the test' }],
    ]),
    readings: new Map([
      [
        'nitrate',
        log.readings
          .filter(({ day }) => day <= until)
          .map(({ day, value, relativeSd }) =>
            reading(day, value, relativeSd * value, { kitId: kitAt(day) }),
          ),
      ],
    ]),
    changes: logged
      ? log.changes.filter(({ day }) => day <= until).map(({ day, fraction }) => waterChange(day, fraction))
      : [],
  });
}

/** Days from the onset to the first alert, looking every second day. */
function delay(plan: CreepPlan, logged = true): number {
  for (let day = plan.onset; day < plan.days; day += 2) {
    if (firing(find(nitrateCreep, factsOf(plan, day, logged), day)).length > 0) return day - plan.onset;
  }
  return Number.POSITIVE_INFINITY;
}

const seeds = Array.from({ length: 15 }, (_, i) => i + 1);

describe('the nitrate creep rule', () => {
  test('stays silent in calm worlds', () => {
    const alerts = seeds.filter((seed) => {
      const plan = { ...usual, seed, onset: 999 };
      return [120, 200, 280].some((day) => firing(find(nitrateCreep, factsOf(plan, day), day)).length > 0);
    });
    expect(alerts.length).toBeLessThanOrEqual(1);
  });

  test('finds a creep of 1 mg/L a week within about four weeks, beneath the saw-tooth', () => {
    const delays = seeds.map((seed) => delay({ ...usual, seed, rise: 1 }));
    expect(median(delays)).toBeGreaterThan(10);
    expect(median(delays)).toBeLessThan(32);
  });

  test('finds changes that stopped, says so and asks whether they were done', () => {
    const plan = { ...usual, seed: 3, stop: true };
    const day = plan.onset + 45;
    const [finding] = find(nitrateCreep, factsOf(plan, day), day);
    expect(finding).toMatchObject({ status: 'fires', subject: { type: 'system' } });
    expect(finding?.title).toBe('Long run: nitrate is rising, fewer changes logged');
    expect(finding?.question).toMatch(
      /^Were the changes done\? The last one was logged (4[0-9]|5[0-9]) days ago/,
    );
    expect(finding?.firstStep).toMatch(/^Take the changes up again/);
  });

  test('says which rose, where it tends, and what to change before feeding less', () => {
    const plan = { ...usual, seed: 5, rise: 1 };
    const [finding] = find(nitrateCreep, factsOf(plan, 320), 320);
    expect(finding?.title).toBe('Long run: nitrate is rising');
    expect(finding?.severity).toBe('today');
    expect(finding?.numbers).toMatch(
      /^\d+\.\d mg\/L as NO₃ now, estimated ± \d+\.\d mg\/L as NO₃, settles at \d+\.\d mg\/L as NO₃ \(\d+\.\d to \d+\.\d\)/,
    );
    expect(finding?.large?.more).toMatch(/^± \d+\.\d, tested \d+(\.\d)?; \d+\.\d in 60 days$/);
    expect(finding?.figures.find(({ label }) => label === 'In 60 days')?.text).toMatch(
      / \(\d+\.\d to \d+\.\d\)$/,
    );
    expect(finding?.figures.find(({ label }) => label === 'Last test')?.text).toMatch(
      /^\d+\.\d mg\/L as NO₃, /,
    );
    expect(finding?.firstStep).toMatch(
      /^Export more: skim wetter, take detritus out\. .*one of \d+ % \(\d+ L\) every .* days\. Feed less only if.*hold it near /,
    );
    expect(finding?.limit.source).toContain('Own level');
    expect(finding?.evidence.filter(({ kind }) => kind === 'reading').length).toBe(20);
    expect(finding?.evidence.some(({ kind }) => kind === 'water change')).toBe(true);
  });

  test('without any logged change it watches the level alone and says so', () => {
    const plan = { ...usual, seed: 5, rise: 1 };
    const [finding] = find(nitrateCreep, factsOf(plan, 320, false), 320);
    expect(finding?.status).toBe('fires');
    expect(finding?.why).toContain('cannot tell more production from fewer changes');
    expect(seeds.filter((seed) => delay({ ...usual, seed, rise: 1 }, false) < 60).length).toBeGreaterThan(12);
  });

  test('does not judge before 60 days of readings', () => {
    const plan = { ...usual, seed: 5, onset: 10, rise: 3 };
    expect(find(nitrateCreep, factsOf(plan, 55), 55)).toEqual([]);
  });

  test('readings that ended a month ago neither open nor clear an alert', () => {
    const facts = factsOf({ ...usual, seed: 5, rise: 1 }, 300);
    expect(find(nitrateCreep, facts, 340)).toMatchObject([{ status: 'unknown' }]);
  });

  test('one unconfirmed reading asks for no more than another test', () => {
    const facts = factsOf({ ...usual, seed: 5, onset: 999 }, 300);
    const calm = facts.readings.get('nitrate') ?? [];
    const wild = [0, 1, 2, 3, 4].map((i) => reading(300 + i, 60, 6, { trust: 'unconfirmed' }));
    const findings = find(
      nitrateCreep,
      { ...facts, readings: new Map([['nitrate', [...calm, ...wild]]]) },
      305,
    );
    for (const finding of findings) {
      expect(finding.severity).toBe('watch');
      expect(finding.firstStep).toMatch(/^Test again/);
    }
    expect(findings.length).toBe(1);
  });

  test('an upper limit that is passed is to act on now', () => {
    const plan = { ...usual, seed: 5, rise: 1 };
    const facts = factsOf(plan, 320);
    const kept = { bandLow: null, bandHigh: null, limitHigh: 9, makeUp: 0.5, source: '' };
    const [finding] = find(nitrateCreep, { ...facts, kept: new Map([['nitrate', kept]]) }, 320);
    expect(finding).toMatchObject({ severity: 'now' });
    expect(finding?.numbers).toContain('the limit of 9.0 mg/L as NO₃ is passed');
  });
});

describe('a plan of water changes', () => {
  const plan = (state: { level: number; production: number; makeUp: number }, target: number) =>
    exchangePlan({ ...state, levelSd: 0, productionSd: 0, cov: 0 }, target, 1);

  test('holds the mean level at the target: worked example', () => {
    // 0.2 mg/L a day, weekly: f = 1.4 / (8 + 0.7 - 0.5) = 0.1707, by conservation of mass; in whole per cent.
    const { first, later } = plan({ level: 8, production: 0.2, makeUp: 0.5 }, 8);
    expect(first.count).toBe(0);
    expect(later).toEqual({ fraction: 0.18, everyDays: 7 });
  });

  test('brings the level down first, to the low point of the swing: 15 to 7.3 takes five changes', () => {
    // 15 -> 12.1; then each 0.8 (level + 3 x 0.2) + 0.1: 10.3, 8.8, 7.6, 6.7.
    expect(plan({ level: 15, production: 0.2, makeUp: 0.5 }, 8).first.count).toBe(5);
  });

  test('asks for more changes a week rather than large ones, and says where none of them holds it', () => {
    expect(plan({ level: 8, production: 0.6, makeUp: 0.5 }, 8).later.everyDays).toBe(3.5);
    expect(plan({ level: 8, production: 5, makeUp: 0.5 }, 8).holds).toBe(false);
    expect(plan({ level: 8, production: 0.2, makeUp: 9 }, 8).holds).toBe(false);
  });
});
