import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { convert, convertDifference } from '../../src/science/units/convert.ts';
import type { CorrectionFact, KitFact, ReadingFact } from '../../src/watch/facts/types.ts';
import { alkalinityFalling } from '../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { alkalinityWorld } from '../bench/detect/alkalinity-world.ts';
import { median } from '../science/worlds.ts';
import { blankKit, blankSystem, dayZero, dose, find, firing, madeId, reading } from './facts.ts';

// Worlds and delays: the simulation study in DEVELOPERS.md (8.2 dKH, limit 7.0, swing 0.12, level wandering by 0.15).

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');
const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const band = { bandLow: dkh(7), bandHigh: dkh(10), limitHigh: null, makeUp: null, source: 'house rule' };
const usual = { habit: 'daily', testSd: 0.1, swing: 0.12, factor: 1, wander: 0.15, repeated: false } as const;

const system = (readings: readonly ReadingFact[], until: number, more = {}) =>
  blankSystem({
    kept: new Map([['alkalinity', band]]),
    readings: new Map([['alkalinity', readings.filter(({ day }) => day <= dayZero + until)]]),
    ...more,
  });

/** Daily tests without error of a level that a function of the day gives, in dKH. */
const line = (level: (day: number) => number, days: number, from = 0) =>
  Array.from({ length: days }, (_, i) => reading(from + i, dkh(level(from + i)), 0.1 * perDkh));

const seeds = Array.from({ length: 12 }, (_, i) => i + 301);

describe('the rule on falling alkalinity', () => {
  test('stays silent in calm water that wanders by itself', () => {
    const alerts = seeds.flatMap((seed) => {
      const { readings } = alkalinityWorld({ ...usual, fall: 0, days: 200, onset: 999 }, seed);
      return [110, 140, 170, 199].filter(
        (day) => firing(find(alkalinityFalling, system(readings, day), day)).length > 0,
      );
    });
    expect(alerts.length).toBeLessThanOrEqual(1);
  });

  test('is part of a swing where an alert says that the level swings, and of nothing where it is for now', () => {
    const [found] = find(
      alkalinityFalling,
      system(
        line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 39),
        38,
      ),
      38,
    );
    expect(found?.causes).toMatchObject([{ rule: 'alkalinity-unsteady', facet: '' }]);
    const later = line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 42);
    expect(find(alkalinityFalling, system(later, 41), 41)[0]?.causes).toEqual([]);
  });

  test('finds a fall of 0.1 dKH a day in about a week, days before the limit is passed on day 12', () => {
    const delays = seeds.map((seed) => {
      const { readings } = alkalinityWorld({ ...usual, fall: 0.1, days: 120, onset: 90 }, seed);
      for (let day = 91; day < 120; day++) {
        if (firing(find(alkalinityFalling, system(readings, day), day)).length > 0) return day - 90;
      }
      return Number.POSITIVE_INFINITY;
    });
    expect(median(delays)).toBeGreaterThan(3);
    expect(median(delays)).toBeLessThanOrEqual(8);
    expect(delays.filter((delay) => delay <= 10).length).toBeGreaterThanOrEqual(10);
  });

  test('does not take the step to a kit that reads a little lower for a fall', () => {
    const openedOn = 60;
    const stepped = seeds.filter((seed) => {
      const { readings } = alkalinityWorld({ ...usual, wander: 0, fall: 0, days: 70, onset: 999 }, seed);
      const known = readings.map((one) => {
        const own = one.day >= dayZero + openedOn;
        return { ...one, kitId: own ? 'new' : 'old', value: one.value - (own ? 0.35 * perDkh : 0) };
      });
      return [61, 62, 63, 64, 65, 66, 68].some(
        (day) => firing(find(alkalinityFalling, system(known, day), day)).length > 0,
      );
    });
    expect(stepped.length).toBeLessThanOrEqual(1);
  });

  test('does not take the way back from a confirmed rise for a fall, until it goes on below where it was', () => {
    const calm = line((day) => 8.1 + 0.1 * Math.sin(2.4 * day), 90);
    const risen = { ...reading(90, dkh(8.9), 0.1 * perDkh), trust: 'confirmed' as const };
    const told = (...back: number[]) => {
      const after = back.map((value, i) => reading(91 + i, dkh(value), 0.1 * perDkh));
      const until = 90 + back.length;
      return firing(find(alkalinityFalling, system([...calm, risen, ...after], until), until)).length > 0;
    };
    expect([told(8.1), told(8.1, 8.05), told(8.1, 7.9, 7.6, 7.3)]).toEqual([false, false, true]);
  });

  test('says how fast it falls, when the limit is reached, and to look at the supply before dosing', () => {
    const readings = line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 39);
    const [finding] = firing(find(alkalinityFalling, system(readings, 38), 38));
    expect(finding).toMatchObject({
      title: 'Long run: alkalinity falls',
      severity: 'today',
      limit: { text: '7.0', unit: 'dKH' },
    });
    expect(finding?.numbers).toMatch(
      /^7\.\d dKH, falls by 0\.\d+ dKH a day; 7\.0 dKH is reached about \d+ Feb 2026$/,
    );
    expect(finding?.firstStep).toContain('at most 1.0 dKH a day');
    expect(finding?.score).toBeGreaterThan(1);
  });

  test('a dose that was lowered by as much would explain it, and is asked about before the doser; a missing dose does not', () => {
    const steps = (late: (day: number) => number | null) => {
      const level = (day: number) => 8.2 - 0.1 * Math.max(0, day - 93);
      const doses = Array.from({ length: 100 }, (_, day) => (day < 93 ? 0.5 : late(day))).flatMap(
        (rise, day) => (rise === null ? [] : [dose(day + 0.5, 'alkalinity', rise * perDkh)]),
      );
      const [found] = find(alkalinityFalling, system(line(level, 101), 100, { doses }), 100);
      return { text: found?.firstStep ?? '', why: found?.why ?? '', figures: found?.figures ?? [] };
    };
    const lowered = steps(() => 0.4);
    expect(lowered.text).not.toContain('Look at what supplies it');
    expect(lowered.text).toContain('Raise the daily dose');
    expect(lowered.why).toContain('that would explain it');
    expect(lowered.text).toContain('If nobody did, look at the doser.');
    expect(lowered.figures.find(({ label }) => label === 'Dosed, by the log')?.text).toMatch(/^0\.4.*0\.5/);
    expect(steps(() => 0.5).text).toContain('Look at what supplies it');
    expect(steps((day) => (day === 97 ? null : 0.5)).text).toContain('Look at what supplies it');
  });

  test('raises nothing where the water thinned, or may have by a salinity that waits for its repeat', () => {
    const fell = line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 39);
    const salt = (trust: ReadingFact['trust']) =>
      Array.from({ length: 39 }, (_, day) =>
        day < 37 ? reading(day, 35, 0.3) : { ...reading(day, 31, 0.3), trust },
      );
    for (const [trust, first] of [
      ['confirmed', /^Set the salinity right first, slowly\./],
      ['unconfirmed', /^Test the salinity again now, .*Raise nothing until it is known\./],
    ] as const) {
      const facts = system(fell, 38);
      const thin = { ...facts, readings: new Map([...facts.readings, ['salinity', salt(trust)]]) };
      const [finding] = firing(find(alkalinityFalling, thin, 38));
      expect(finding?.firstStep).toMatch(first);
      expect(finding?.advice.flatMap(({ acts }) => acts)).not.toContainEqual(
        expect.objectContaining({ direction: 'up' }),
      );
      expect(finding?.causes).toMatchObject([{ rule: 'out-of-band', facet: 'salinity' }]);
    }
  });

  test('is told as ever in water that was always thin: it took nothing down', () => {
    const facts = system(
      line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 39),
      38,
    );
    const salinity = Array.from({ length: 39 }, (_, day) => reading(day, 32, 0.3));
    const thin = { ...facts, readings: new Map([...facts.readings, ['salinity', salinity]]) };
    const [finding] = firing(find(alkalinityFalling, thin, 38));
    expect(finding?.firstStep).toMatch(/^Look at what supplies it/);
    expect(finding?.firstStep).not.toContain('salinity');
  });

  test('asks to act now when the limit is two days away', () => {
    const readings = line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 42);
    expect(firing(find(alkalinityFalling, system(readings, 41), 41))).toMatchObject([{ severity: 'now' }]);
  });

  test('takes a level that lies steadily just above the limit for no fall', () => {
    const readings = line((day) => 7.2 + 0.08 * Math.sin(2.4 * day), 60);
    const looks = [40, 45, 50, 55, 59];
    expect(looks.flatMap((day) => firing(find(alkalinityFalling, system(readings, day), day)))).toEqual([]);
  });

  test('one unconfirmed low test asks for another today, and for a look at the doser', () => {
    const steady = line((day) => 7.6 - 0.01 * day, 20);
    const low = reading(20, dkh(6.6), 0.1 * perDkh, { trust: 'unconfirmed' });
    const quiet = firing(find(alkalinityFalling, system(steady, 19), 19));
    const [asked] = firing(find(alkalinityFalling, system([...steady, low], 20), 20));
    expect(quiet).toEqual([]);
    expect(asked).toMatchObject({ severity: 'today', doubted: true });
    expect(asked?.firstStep).toMatch(/^Test again before you leave the room.*doser/);
  });

  test('a lowering that goes as planned is no alert; the same fall without a plan is', () => {
    const readings = line((day) => 11 - 0.4 * Math.min(10, Math.max(0, Math.ceil(day - 29))), 45);
    const steps = Array.from({ length: 10 }, (_, i) => ({
      id: madeId(),
      dueDay: dayZero + 29.5 + i,
      expectedAfter: dkh(11) - 0.4 * perDkh * (i + 1),
      retest: false,
      doneDay: dayZero + 29.5 + i,
    }));
    const planned: CorrectionFact = {
      id: madeId(),
      quantityCode: 'alkalinity',
      substance: 'water change',
      fromDay: dayZero + 29,
      toDay: null,
      fromValue: dkh(11),
      target: dkh(7.2),
      dailyCap: 0.5 * perDkh,
      steps,
    };
    const days = [33, 35, 37, 39];
    const fired = (corrections: CorrectionFact[]) =>
      days.filter(
        (day) => firing(find(alkalinityFalling, system(readings, day, { corrections }), day)).length > 0,
      );
    expect(fired([])).not.toEqual([]);
    expect(fired([planned])).toEqual([]);
  });

  test('a fall that shows only if the new bottle is the wrong one waits for a standard; one by both bottles is told', () => {
    // Two bottles differ by 0.5 dKH and nothing says which is right; then the water sinks a little, or goes on.
    const told = (sinks: number, checks: KitFact['checks'] = []) => {
      const random = seededRandom(3);
      const readings = Array.from({ length: 119 }, (_, day) => {
        const level = 8 + (day < 80 ? 0 : 0.5) - sinks * Math.max(0, day - 110) + 0.1 * random.normal();
        const one = reading(day, dkh(level), 0.1 * perDkh);
        return { ...one, kitId: day < 80 ? 'old' : 'new' };
      });
      const kit = blankKit({
        ...{ id: 'new', quantityCode: 'alkalinity', openedDay: dayZero + 80, checks },
        systems: [{ systemId: 'made', name: 'Long run', firstDay: dayZero + 80, readings }],
      });
      return find(alkalinityFalling, system(readings, 118, { kits: [kit] }), 118)[0];
    };
    const doubted = told(0.08);
    expect(doubted?.status).toBe('stays');
    expect(doubted?.causes).toMatchObject([{ rule: 'kit-biased', subject: { id: 'new' } }]);
    expect(told(0.16)?.status).toBe('fires');
    // A standard of 8 dKH that the new bottle reads as 8.5 says which one is wrong.
    const checks = [0, 0, 14, 14].map((after, i) => ({
      ...{ id: `check ${i}`, day: dayZero + 85 + after, at: '', standard: dkh(8), value: dkh(8.5) },
      u: 0.1 * perDkh,
    }));
    expect(told(0.08, checks)?.status).toBe('fires');
  });

  test('a new kit that reads low is not taken for the water', () => {
    const old = line(() => 8.2, 30).map((one, i) => ({
      ...one,
      kitId: 'old',
      value: one.value * (1 + 0.01 * Math.sin(2.4 * i)),
    }));
    const low = line(() => 8.2, 14, 30).map((one, i) => ({
      ...one,
      kitId: 'new',
      value: one.value * 0.88 * (1 + 0.01 * Math.sin(2.4 * i)),
    }));
    const readings = [...old, ...low];
    const kit = blankKit({
      id: 'new',
      openedDay: dayZero + 30,
      systems: [{ systemId: madeId(), name: 'Long run', firstDay: dayZero + 30, readings }],
    });
    const looks = [36, 38, 40, 43];
    const found = looks.flatMap((day) =>
      firing(find(alkalinityFalling, system(readings, day, { kits: [kit] }), day)),
    );
    expect(found).toEqual([]);
  });

  test('without a test for a week what is open stays open, and nothing opens', () => {
    const readings = line((day) => 8.2 - 0.1 * Math.max(0, day - 30), 39);
    expect(find(alkalinityFalling, system(readings, 46), 46)).toMatchObject([{ status: 'unknown' }]);
  });

  test('does not judge before it has eight tests', () => {
    expect(
      find(
        alkalinityFalling,
        system(
          line((day) => 8 - 0.15 * day, 7),
          6,
        ),
        6,
      ),
    ).toEqual([]);
  });
});
