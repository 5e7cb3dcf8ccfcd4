import { describe, expect, test } from 'vitest';
import { convertDifference } from '../../src/science/units/convert.ts';
import type { CorrectionFact, DoseFact } from '../../src/watch/facts/types.ts';
import { alkalinityFalling } from '../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { alkalinityUnsteady } from '../../src/watch/rules/alkalinity/alkalinity-unsteady.ts';
import { type AlkalinityPlan, alkalinityWorld, median } from '../science/worlds.ts';
import { blankKit, blankSystem, dayZero, dose, find, firing, madeId, onDay, reading } from './facts.ts';

// Worlds and delays: the simulation study in DEVELOPERS.md (daily tests to 0.1 dKH, swing 0.1 dKH doubled).

const dkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');

function readingsOf(plan: AlkalinityPlan, until = plan.days, gain = 1, from = 0) {
  return alkalinityWorld(plan)
    .filter(({ day }) => day <= until)
    .map(({ day, value, sd }) => {
      const kitId = gain !== 1 && day >= from ? 'new' : 'old';
      return reading(day, value * dkh * (kitId === 'new' ? gain : 1), sd * dkh, { kitId });
    });
}

const system = (readings: ReturnType<typeof readingsOf>) =>
  blankSystem({ readings: new Map([['alkalinity', readings]]) });

const seeds = Array.from({ length: 20 }, (_, i) => i + 101);
const calm = { days: 300, onset: 999 };

describe('the rule on unsteady alkalinity', () => {
  test('stays silent in calm worlds', () => {
    const looks = seeds.flatMap((seed) => [150, 220, 290].map((day) => ({ seed, day })));
    const alerts = looks.filter(
      ({ seed, day }) =>
        firing(find(alkalinityUnsteady, system(readingsOf({ ...calm, seed }, day)), day)).length > 0,
    );
    expect(alerts.length).toBeLessThanOrEqual(3);
  });

  test('finds a doubled swing after about three weeks of daily tests', () => {
    const delays = seeds.map((seed) => {
      const plan = { seed, days: 280, onset: 180, factor: 2 };
      for (let day = 181; day < plan.days; day += 2) {
        if (firing(find(alkalinityUnsteady, system(readingsOf(plan, day)), day)).length > 0) return day - 180;
      }
      return Number.POSITIVE_INFINITY;
    });
    expect(median(delays)).toBeGreaterThan(7);
    expect(median(delays)).toBeLessThan(32);
  });

  test('does not tell what a correction planned as a swing', () => {
    // A calm level that two steps of 0.9 dKH raise on days 200 and 201.
    const rise = (day: number) => 0.9 * dkh * (Number(day >= 200) + Number(day >= 201));
    const steps = [200, 201].map((day, i) => ({
      ...{ id: `step ${i}`, dueDay: dayZero + day, doneDay: dayZero + day, retest: false },
      expectedAfter: (7.4 + 0.9 * (i + 1)) * dkh,
    }));
    const correction: CorrectionFact = {
      ...{ id: madeId(), quantityCode: 'alkalinity', substance: 'soda', dailyCap: dkh },
      ...{ fromDay: dayZero + 200, toDay: dayZero + 202, fromValue: 7.4 * dkh, target: 9.2 * dkh, steps },
    };
    const fired = (corrections: CorrectionFact[]) =>
      seeds.flatMap((seed) =>
        [202, 205, 208].filter((day) => {
          const raised = readingsOf({ ...calm, seed }, day).map((one) => ({
            ...one,
            value: one.value + rise(one.day - dayZero),
          }));
          const facts = { ...system(raised), corrections };
          return firing(find(alkalinityUnsteady, facts, day)).length > 0;
        }),
      ).length;
    expect(fired([correction])).toBeLessThanOrEqual(3);
    expect(fired([])).toBeGreaterThan(20);
  });

  test('waits until it knows sixty days of a system', () => {
    const plan = { seed: 108, days: 59, onset: 50, factor: 5 };
    expect(find(alkalinityUnsteady, system(readingsOf(plan)), 59)).toEqual([]);
    const longer = { seed: 108, days: 75, onset: 50, factor: 5 };
    expect(firing(find(alkalinityUnsteady, system(readingsOf(longer)), 75)).length).toBe(1);
  });

  test('says how much it swung, since when, and looks at the doser before dosing', () => {
    const plan = { seed: 108, days: 240, onset: 200, factor: 4 };
    const [finding] = firing(find(alkalinityUnsteady, system(readingsOf(plan)), 240));
    expect(finding).toMatchObject({
      title: 'Long run: alkalinity swings',
      number: { label: 'How surely it swings twice as much' },
    });
    expect(finding?.numbers).toMatch(/^\d\.\d dKH in seven days, usually \d\.\d$/);
    expect(finding?.firstStep).toMatch(/^Look at the doser before dosing anything/);
  });

  test('says in one alert that it may fall too, and leaves the dose; what is for now stands by itself, names both and raises a level at its edge by hand', () => {
    const level = readingsOf({ seed: 108, days: 240, onset: 200, factor: 4 });
    const at = (lower: number) => {
      // The same swing, and a level that goes down by 0.25 dKH a day for its last four days.
      const falling = level.map((one) => ({
        ...one,
        value: one.value - (lower + 0.25 * Math.max(0, one.day - dayZero - 236)) * dkh,
      }));
      const [swing] = firing(find(alkalinityUnsteady, system(falling), 240));
      const [fall] = firing(find(alkalinityFalling, system(falling), 240));
      return { swing, fall };
    };
    const all = Array.from({ length: 16 }, (_, i) => at(-2 + 0.2 * i));
    const parts = all.filter(({ fall }) => fall !== undefined && fall.severity !== 'now');
    expect(parts.length).toBeGreaterThan(0);
    for (const { swing, fall } of parts) {
      expect(swing?.title).toBe('Long run: alkalinity swings and may fall');
      expect(swing?.numbers).toContain(fall?.numbers);
      expect(swing?.firstStep).toMatch(
        /^Look at the doser before dosing anything.*Leave the daily dose as it is/,
      );
      expect(swing?.firstStep).not.toContain('Raise the daily dose');
      expect(fall?.causes.map(({ rule }) => rule)).toEqual(['alkalinity-unsteady']);
    }
    const urgent = all.filter(({ fall }) => fall?.severity === 'now');
    expect(urgent.length).toBeGreaterThan(0);
    for (const { swing, fall } of urgent) {
      expect(fall).toMatchObject({ causes: [], title: 'Long run: alkalinity swings and may fall' });
      expect(fall?.firstStep).toMatch(
        /Raise it by hand to 7\.0 dKH and no higher.* by at most 1\.0 dKH a day/,
      );
      expect(fall?.firstStep).not.toContain('Raise the daily dose');
      expect(swing?.title).toBe('Long run: alkalinity swings');
    }
    expect(all[0]).toMatchObject({ fall: undefined, swing: { title: 'Long run: alkalinity swings' } });
  });

  test('asks for a look into the container where the dose swings with it, since use cannot be judged then', () => {
    const plan = { seed: 108, days: 240, onset: 200, factor: 4 };
    // What the log says was given; nobody looked at what left the container.
    const given = Array.from({ length: 240 }, (_, day) => dose(day + 0.1, 'alkalinity', 0.4 * dkh));
    const said = (doses: DoseFact[]) => {
      const [finding] = firing(find(alkalinityUnsteady, { ...system(readingsOf(plan)), doses }, 240));
      return `${finding?.why} ${finding?.firstStep}`;
    };
    expect(said(given)).toMatch(/Use cannot be judged.*Note what is left in the dosing container/);
    expect(said([])).not.toContain('Note what is left');
  });

  test('ends within three weeks once the water is as steady as it was', () => {
    const still = seeds.filter((seed) => {
      const rough = readingsOf({ seed, days: 260, onset: 200, factor: 4 }, 225);
      const steady = readingsOf({ ...calm, seed }).filter(({ day }) => day > dayZero + 225);
      const at = (day: number) =>
        firing(
          find(
            alkalinityUnsteady,
            system([...rough, ...steady].filter((one) => one.day <= dayZero + day)),
            day,
          ),
        );
      expect([215, 220, 225].some((day) => at(day).length > 0)).toBe(true);
      return at(250).length > 0;
    });
    expect(still.length).toBeLessThan(4);
  });

  test('tells a level that rises steadily as a rise, mildly, and never as a swing', () => {
    const titles = seeds.flatMap((seed) => {
      const rising = readingsOf({ ...calm, seed }).map((one) => ({
        ...one,
        value: one.value + 0.12 * 0.3567 * Math.max(0, one.day - dayZero - 200),
      }));
      return [206, 209, 212, 214].flatMap((day) =>
        firing(find(alkalinityUnsteady, system(rising.filter((one) => one.day <= dayZero + day)), day)),
      );
    });
    const rises = titles.filter(({ title }) => title === 'Long run: alkalinity rises steadily');
    expect(rises.length).toBeGreaterThan(5);
    for (const { severity } of rises) expect(severity).toBe('watch');
    expect(titles.length - rises.length).toBeLessThan(rises.length / 2);
  });

  test('takes no two weeks of a swing that was told for a steady fall or rise', () => {
    // Of 60 swings tripled on day 180 those whose last two weeks look like a line, which is chance.
    const looks = [
      { seed: 121, day: 221 },
      { seed: 124, day: 209 },
      { seed: 158, day: 209 },
    ];
    const told = looks.flatMap(({ seed, day }) =>
      firing(
        find(alkalinityUnsteady, system(readingsOf({ seed, days: 240, onset: 180, factor: 3 }, day)), day),
      ),
    );
    expect(told.map(({ title }) => title)).toEqual(
      looks.map(() => expect.stringMatching(/alkalinity swings/)),
    );
  });

  test('a new kit that reads low is not taken for the water', () => {
    const readings = readingsOf({ ...calm, seed: 104, days: 200 }, 200, 0.88, 180);
    const kit = blankKit({
      id: 'new',
      label: 'Alkalinity set 2',
      openedDay: readings.find(({ kitId }) => kitId === 'new')?.day ?? 0,
      openedAt: onDay(180).toISOString(),
      systems: [
        {
          systemId: madeId(),
          name: 'Long run',
          firstDay: readings.find(({ kitId }) => kitId === 'new')?.day ?? 0,
          readings,
        },
      ],
    });
    // Nobody told of the bottle: its step looks like a swing.
    const untold = readings.map((one) => ({ ...one, kitId: null }));
    const days = [183, 185, 187, 190, 195];
    const on = (day: number) => untold.filter((one) => one.day <= dayZero + day);
    expect(days.some((day) => firing(find(alkalinityUnsteady, system(on(day)), day)).length > 0)).toBe(true);
    for (const day of days)
      expect(
        firing(
          find(
            alkalinityUnsteady,
            { ...system(readings.filter((one) => one.day <= dayZero + day)), kits: [kit] },
            day,
          ),
        ),
      ).toEqual([]);
  });

  test('a test and its repeat are one occasion', () => {
    const readings = readingsOf({ ...calm, seed: 104, days: 120 });
    const doubled = readings.flatMap((one) => [one, { ...one, id: madeId(), day: one.day + 0.005 }]);
    const score = (of: typeof readings) => find(alkalinityUnsteady, system(of), 120)[0]?.score ?? 0;
    expect(score(doubled)).toBeCloseTo(score(readings), 9);
  });

  test('does not judge before the own swing is learnt', () => {
    const plan = { seed: 104, days: 38, onset: 10, factor: 5 };
    expect(find(alkalinityUnsteady, system(readingsOf(plan)), 38)).toEqual([]);
  });
});

describe('when it began', () => {
  test('is said as an interval, which holds the day nine times in ten where it is said at all', () => {
    const said = seeds.flatMap((seed) => {
      const text = find(
        alkalinityUnsteady,
        system(readingsOf({ seed, days: 280, onset: 180, factor: 2.5 }, 202)),
        202,
      )
        .filter(({ status }) => status === 'fires')
        .flatMap(({ figures }) => figures.filter(({ label }) => label === 'Began to swing'))[0]?.text;
      const days = /between (.+) and (.+) \(/
        .exec(text ?? '')
        ?.slice(1)
        .map((day) => Date.parse(`${day} UTC`));
      return days === undefined ? [] : [days as [number, number]];
    });
    const began = onDay(180).getTime();
    const held = said.filter(([from, to]) => from <= began + 86_400_000 && began <= to + 86_400_000);
    expect(said.length).toBeGreaterThan(10);
    expect(held.length / said.length).toBeGreaterThanOrEqual(0.75);
  });
});
