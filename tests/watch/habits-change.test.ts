import { describe, expect, test } from 'vitest';
import { levelSinceHabitsChanged, sinceHabitsChanged } from '../../src/farm/events/habits.rules.ts';
import { alkalinityFalling } from '../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { alkalinityUnsteady } from '../../src/watch/rules/alkalinity/alkalinity-unsteady.ts';
import { outOfBand } from '../../src/watch/rules/bands/out-of-band.ts';
import { ammonia } from '../../src/watch/rules/chemistry/ammonia.ts';
import { calciumAlkalinity } from '../../src/watch/rules/demand/calcium-alkalinity.ts';
import { demandChanged } from '../../src/watch/rules/demand/demand-changed.ts';
import { nitrateCreep } from '../../src/watch/rules/nitrate/nitrate-creep.ts';
import { nitrateLevel } from '../../src/watch/rules/nitrate/nitrate-level.ts';
import { nitrateAgainstEdge } from '../../src/watch/rules/nitrate/raised.ts';
import { blankSystem, dayZero, dose, find, firing, madeId, onDay, reading, waterChange } from './facts.ts';

// Water whose habits change on day 100, as somebody logged. Figures made up; each rule first finds what it finds without
// the event, so that it is the event that is seen to work.

const changed = (day = 100) => [
  {
    id: madeId(),
    day: dayZero + day,
    at: onDay(day).toISOString(),
    kind: 'reactor_started' as const,
    note: '',
  },
];
const days = (from: number, to: number, every = 1) =>
  Array.from({ length: Math.floor((to - from) / every) + 1 }, (_, i) => from + i * every);
const dkh = 1 / 2.8;
/** Half a test's error up and down, so that no series is smoother than tests are. */
const wiggle = (day: number) => (day % 2 === 0 ? 0.02 : -0.02);

describe('what was read is taken', () => {
  const rows = [90, 95, 99, 100, 104].map((day) => ({ day, sure: day !== 99 }));

  test('from the last change of habits on, where something is learnt', () => {
    expect(sinceHabitsChanged([], rows)).toBe(rows);
    expect(sinceHabitsChanged([{ day: 50 }, { day: 100 }], rows).map(({ day }) => day)).toEqual([100, 104]);
  });

  test('with the last one before that can be relied on, where a level is followed', () => {
    expect(levelSinceHabitsChanged([], rows)).toBe(rows);
    const followed = levelSinceHabitsChanged([{ day: 100 }], rows, ({ sure }) => sure);
    expect(followed.map(({ day }) => day)).toEqual([95, 99, 100, 104]);
    expect(levelSinceHabitsChanged([{ day: 10 }], rows)).toEqual(rows);
  });
});

describe('a fall that ended when a reactor was started', () => {
  // 0.25 dKH a day until day 100, steady since.
  const at = (day: number) => (9.5 - 0.25 * (Math.min(day, 100) - 90) + wiggle(day)) * dkh;
  const facts = (events = changed()) =>
    blankSystem({
      events,
      kept: new Map([
        [
          'alkalinity',
          { bandLow: 6.8 * dkh, bandHigh: 10 * dkh, limitHigh: null, makeUp: null, source: 'own' },
        ],
      ]),
      readings: new Map([['alkalinity', days(90, 101).map((day) => reading(day, at(day), 0.1 * dkh))]]),
    });

  test('is no longer said to fall', () => {
    expect(firing(find(alkalinityFalling, facts([]), 101))).toHaveLength(1);
    expect(firing(find(alkalinityFalling, facts(), 101))).toEqual([]);
  });

  test('is told again when it goes on after the event', () => {
    const on = (day: number) => (9.5 - 0.25 * (day - 90) + wiggle(day)) * dkh;
    const readings = days(90, 105).map((day) => reading(day, on(day), 0.1 * dkh));
    const goesOn = { ...facts(), readings: new Map([['alkalinity', readings]]) };
    expect(firing(find(alkalinityFalling, goesOn, 105))).toHaveLength(1);
  });
});

test('a drift of weeks before the event is no drift any longer; a level outside its band still is outside', () => {
  const kept = new Map([
    ['magnesium', { bandLow: 1243, bandHigh: 1400, limitHigh: null, makeUp: null, source: 'own' }],
  ]);
  const level = (day: number) => 1400 - 1.5 * Math.min(100, day) + (day % 2 === 0 ? 2 : -2);
  const of = (values: (day: number) => number, events = changed()) =>
    blankSystem({
      kept,
      events,
      readings: new Map([['magnesium', days(0, 102, 3).map((day) => reading(day, values(day), 4))]]),
    });
  const drifts = (facts: ReturnType<typeof of>) =>
    firing(find(outOfBand, facts, 102)).some(({ title }) => title.includes('leaves'));
  expect(drifts(of(level, []))).toBe(true);
  expect(drifts(of(level))).toBe(false);
  const low = of((day) => level(day) - 40, changed(102.5));
  expect(firing(find(outOfBand, low, 103))).toHaveLength(1);
});

test('the own swing is learnt anew: nothing is called unsteady by the swing of another water', () => {
  const swings = (day: number) => (8 + (day > 100 ? 0.9 : 0.1) * Math.sin(day * 2.4)) * dkh;
  const of = (events = changed()) =>
    blankSystem({
      events,
      readings: new Map([['alkalinity', days(0, 125).map((day) => reading(day, swings(day), 0.1 * dkh))]]),
    });
  expect(firing(find(alkalinityUnsteady, of([]), 125))).toHaveLength(1);
  expect(firing(find(alkalinityUnsteady, of(), 125))).toEqual([]);
});

test('the use of alkalinity, and calcium beside it, are not averaged across the event', () => {
  // 0.5 dKH a day are used and dosed until day 100; 0.2 from then on.
  const used = (day: number) => (day < 100 ? 0.5 : 0.2);
  const of = (events = changed()) =>
    blankSystem({
      events,
      doses: days(0, 130).map((day) => dose(day + 0.5, 'alkalinity', used(day) * dkh)),
      readings: new Map([
        ['alkalinity', days(0, 130).map((day) => reading(day, (8 + wiggle(day)) * dkh, 0.05 * dkh))],
        ['calcium', days(0, 130, 4).map((day) => reading(day, 420 - 3 * (Math.min(day, 100) / 10), 4))],
      ]),
    });
  expect(
    firing(find(demandChanged, of([]), 130))
      .map(({ title }) => title)
      .join(),
  ).toContain('use');
  expect(firing(find(demandChanged, of(), 130))).toEqual([]);
  expect(find(calciumAlkalinity, of([]), 130)).toHaveLength(1);
  expect(find(calciumAlkalinity, of(), 130)).toEqual([]);
});

describe('nitrate', () => {
  const changes = days(0, 130, 7).map((day) => waterChange(day + 0.2, 0.12));
  const rising = (day: number) => (day < 80 ? 8 : 8 + (day - 80) * 0.4);
  const of = (values: (day: number) => number, until: number, events = changed()) =>
    blankSystem({
      events,
      changes: changes.filter(({ day }) => day <= dayZero + until),
      readings: new Map([
        ['nitrate', days(0, until, 3).map((day) => reading(day, values(day), values(day) * 0.1))],
      ]),
    });

  test('no longer creeps by what was made before', () => {
    expect(firing(find(nitrateCreep, of(rising, 110, []), 110))).toHaveLength(1);
    expect(find(nitrateCreep, of(rising, 110), 110)).toEqual([]);
  });

  test('is raised by its level alone, with no slope of before', () => {
    const facts = (events = changed()) =>
      of((day) => 20 + 0.35 * Math.min(100, day) + wiggle(day), 102, events);
    const of34 = (events?: ReturnType<typeof changed>) => {
      const known = facts(events);
      return nitrateAgainstEdge(known, known.readings.get('nitrate') ?? [], onDay(102), 30)?.level.value ?? 0;
    };
    expect(of34()).toBeGreaterThan(50);
    expect(of34()).toBeLessThan(of34([]) + 2);
    expect(firing(find(nitrateLevel, facts(), 102))).toHaveLength(1);
  });

  test('that stands high before the event goes on being told until a test says otherwise', () => {
    expect(
      firing(
        find(
          nitrateLevel,
          of(() => 45, 99, changed(100)),
          101,
        ),
      ),
    ).toHaveLength(1);
  });
});

test('ammonia that was read before the event is not forgotten by it', () => {
  const facts = blankSystem({
    events: changed(100),
    readings: new Map([
      ['ammonia', [reading(98, 0.02, 0.02), reading(99.5, 1.2, 0.1), reading(99.6, 1.2, 0.1)]],
    ]),
  });
  expect(firing(find(ammonia, facts, 100.1))).toHaveLength(1);
});
