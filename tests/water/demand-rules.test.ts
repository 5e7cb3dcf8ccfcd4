import { describe, expect, test } from 'vitest';
import {
  type DemandLog,
  type DemandReading,
  type DemandRecord,
  rateOf,
} from '../../src/water/demand/rate.rules.ts';
import { type DemandShift, demandShift } from '../../src/water/demand/shift.rules.ts';
import { levelJumpOf, rateNow, supplyOf } from '../../src/water/demand/supply.rules.ts';

const today = 20_000;
const usual = 0.2;

const reading = (day: number, value: number, more: Partial<DemandReading> = {}): DemandReading => ({
  day,
  value,
  u: 0.03,
  below: false,
  trust: 'plain',
  instrument: 'kit',
  suspect: false,
  ...more,
});

interface World {
  /** Days of readings up to today. */
  days?: number;
  /** Days between two tests. */
  every?: number;
  /** What is used on a day so many days ago; meq/L. */
  use: (ago: number) => number;
}

/** Tests without error of water whose usual use is dosed every night. */
function record({ days = 120, every = 2, use }: World): DemandRecord {
  const readings: DemandReading[] = [];
  const doses: { day: number; rise: number }[] = [];
  let level = 3;
  for (let ago = days; ago >= 0; ago -= 1) {
    const day = today - ago;
    if (ago % every === 0) readings.push(reading(day, level));
    doses.push({ day: day + 0.5, rise: usual });
    level += usual - use(ago);
  }
  return { readings, log: { changes: [], doses, makeUp: null } };
}

const outcome = (shift: DemandShift | null) => {
  if (shift === null) return 'cannot tell';
  if (Math.max(shift.fell, shift.rose) < 3) return 'as usual';
  return shift.fell > shift.rose ? 'fell' : 'rose';
};

describe('the use of alkalinity against its own past', () => {
  test.each<[string, World, string, number | null]>([
    ['as much as ever', { use: () => usual }, 'as usual', 0],
    ['half as much for 10 days', { use: (ago) => (ago <= 10 ? 0.1 : usual) }, 'fell', -0.5],
    ['half as much for 20 days', { use: (ago) => (ago <= 20 ? 0.1 : usual) }, 'fell', -0.5],
    ['half as much again for 10 days', { use: (ago) => (ago <= 10 ? 0.3 : usual) }, 'rose', 0.5],
    ['a tenth less for 10 days', { use: (ago) => (ago <= 10 ? 0.18 : usual) }, 'as usual', -0.1],
    [
      'half as much, tested once a week for half a year',
      { use: (ago) => (ago <= 28 ? 0.1 : usual), every: 7, days: 182 },
      'fell',
      -0.5,
    ],
    [
      'half as much, tested once a week for 120 days',
      { use: (ago) => (ago <= 28 ? 0.1 : usual), every: 7 },
      'cannot tell',
      null,
    ],
    ['slowly more with the growth of the stock', { use: (ago) => 0.3 - 0.001 * ago }, 'as usual', null],
    [
      'half as much, 40 days after the first test',
      { use: (ago) => (ago <= 10 ? 0.1 : usual), days: 40 },
      'cannot tell',
      null,
    ],
    ['nothing', { use: () => 0 }, 'cannot tell', null],
    ['less than nothing: something adds to it', { use: () => -0.1 }, 'cannot tell', null],
  ])('%s', (_, world, expected, share) => {
    const shift = demandShift(record(world), today);
    expect(outcome(shift)).toBe(expected);
    if (share !== null) expect(shift?.share).toBeCloseTo(share, 2);
  });
  test.each<[string, (data: DemandRecord) => DemandRecord]>([
    [
      'the last test is older than a window',
      ({ readings, log }) => ({ readings: readings.filter(({ day }) => day < today - 20), log }),
    ],
    [
      'the last three weeks have two tests',
      ({ readings, log }) => ({
        readings: readings.filter(({ day }) => day <= today - 20 || day > today - 4),
        log,
      }),
    ],
    [
      'no reading of the last weeks can be relied on',
      ({ readings, log }) => ({
        readings: readings.map((one) => (one.day > today - 30 ? { ...one, trust: 'unconfirmed' } : one)),
        log,
      }),
    ],
  ])('cannot be told where %s', (_, without) => {
    const halved = record({ use: (ago) => (ago <= 10 ? 0.1 : usual) });
    expect(outcome(demandShift(halved, today))).toBe('fell');
    expect(demandShift(without(halved), today)).toBeNull();
  });

  test('does not change with a dose that is logged, but with one that is not', () => {
    const { readings, log } = record({ use: () => usual });
    expect(outcome(demandShift({ readings, log }, today))).toBe('as usual');
    const unlogged = { ...log, doses: log.doses.filter(({ day }) => day < today - 10) };
    expect(outcome(demandShift({ readings, log: unlogged }, today))).toBe('fell');
  });
});

describe('a reading that a rate does not rest on', () => {
  const plain = [0, 2, 4, 6].map((day) => reading(day, 3 - 0.1 * day));
  const log: DemandLog = { changes: [], doses: [], makeUp: null };

  test.each<[string, Partial<DemandReading>, Partial<DemandLog>]>([
    ['refuted', { trust: 'refuted' }, {}],
    ['unconfirmed', { trust: 'unconfirmed' }, {}],
    ['by a kit under suspicion', { suspect: true }, {}],
    ['below detection', { below: true }, {}],
    ['within an hour after a dose or water change', {}, { doses: [{ day: 6.99, rise: 1 }] }],
    ['within an hour after a dose or water change', {}, { changes: [{ day: 6.99, fraction: 0.2 }] }],
    ['the only one by its kit', { instrument: 'another kit' }, {}],
  ])('is counted as %s', (reason, odd, done) => {
    const rate = rateOf([...plain, reading(7, 9, odd)], { ...log, ...done });
    expect(rate?.perDay).toBeCloseTo(-0.1, 9);
    expect([...(rate?.leftOut ?? [])]).toEqual([[reason, 1]]);
  });

  test('is none where a dose is smaller than the error of the test, or an hour has passed', () => {
    for (const doses of [[{ day: 6.99, rise: 0.01 }], [{ day: 6.9, rise: 1 }]])
      expect(rateOf([...plain, reading(7, 2.3)], { ...log, doses })?.readings).toBe(5);
  });

  test('by a kit under suspicion counts where nothing else tells, for no more than its bias allows', () => {
    const sure = rateOf(plain, log);
    const suspected = rateOf(
      plain.map((one) => ({ ...one, suspect: true })),
      log,
    );
    expect(suspected?.perDay).toBeCloseTo(-0.1, 9);
    expect([...(suspected?.leftOut ?? [])]).toEqual([]);
    expect(suspected?.sd).toBeGreaterThan(Math.max(0.01, sure?.sd ?? Infinity));
  });

  test('leaves no rate with one reading, or with two made within six hours', () => {
    expect(rateOf(plain.slice(0, 1), log)).toBeNull();
    expect(rateOf([reading(0, 3), reading(0.2, 2.9)], log)).toBeNull();
  });
});

describe('use against what water changes bring', () => {
  const data = (use: number, changed: number) => ({
    readings: [14, 12, 10, 8, 6, 4, 2, 0].map((ago) => reading(today - ago, 3 - use * (14 - ago))),
    log: {
      changes: changed === 0 ? [] : [{ day: today - 7.5, fraction: changed }],
      doses: [],
      makeUp: null,
    },
    makeUpStated: false,
    correctedKits: [],
    unknownDoses: [],
    hasDoser: false,
    learntSince: null,
  });
  const supply = (use: number, changed: number, makeUp: number | null) => {
    const { rate } = rateNow(data(use, changed), 'alkalinity', today);
    return rate === null ? null : supplyOf(rate, makeUp);
  };

  test.each([
    ['nothing is used', 0, 0, 3, 'no use'],
    ['much is used and nothing changed', 0.1, 0, 3, 'needs dosing'],
    ['little is used and the changes bring more', 0.01, 0.3, 6, 'changes keep up'],
    ['the make-up water is not known', 0.1, 0.3, null, 'needs dosing'],
  ] as const)('where %s: %d a day, %d changed', (_, use, changed, makeUp, verdict) => {
    expect(supply(use, changed, makeUp)?.verdict).toBe(verdict);
  });

  test('a change that moves the level further than the daily cap names the largest that does not', () => {
    // Conservation of mass: 3 (1 - f) + 5 f = 3 + 2 f, so 30 % moves it by 0.6 and a cap of 0.36 allows 18 %.
    const jump = levelJumpOf(3, 5, 0.3, 0.36);
    expect(jump?.change).toBeCloseTo(0.6, 12);
    expect(jump?.largest).toBeCloseTo(0.18, 12);
    expect(levelJumpOf(3, 5, 0.18, 0.36)).toBeNull();
    expect(levelJumpOf(3, null, 0.3, 0.36)).toBeNull();
    expect(levelJumpOf(3, 5, null, 0.36)).toBeNull();
  });
});

describe('the use of stock that grows, or of which some is sold', () => {
  const growing = (fallFrom: number, by = 1) =>
    record({ days: 180, use: (ago) => 0.3 * 1.03 ** (-ago / 7) * (ago <= fallFrom ? by : 1) });

  test('is judged by its growth both ways', () => {
    expect(outcome(demandShift(growing(0), today))).toBe('as usual');
    const fallen = demandShift(growing(20, 0.7), today);
    expect(outcome(fallen)).toBe('fell');
    expect(fallen?.share).toBeCloseTo(-0.3, 1);
    expect(fallen?.grows).toBe(true);
  });

  test('falls by right when a third of it is sold, and all the same when it falls further', () => {
    const left = [{ day: today - 20, share: 1 / 3 }];
    const sold = record({ days: 180, use: (ago) => (ago <= 20 ? (2 / 3) * usual : usual) });
    expect(outcome(demandShift(sold, today))).toBe('fell');
    expect(outcome(demandShift({ ...sold, left }, today))).toBe('as usual');
    const further = record({ days: 180, use: (ago) => (ago <= 20 ? usual / 4 : usual) });
    expect(outcome(demandShift({ ...further, left }, today))).toBe('fell');
  });

  test('is found to fall after a sale that the past has seen', () => {
    const left = [{ day: today - 90, share: 1 / 3 }];
    const world = record({
      days: 180,
      use: (ago) => usual * (ago <= 90 ? 2 / 3 : 1) * (ago <= 20 ? 0.6 : 1),
    });
    expect(outcome(demandShift({ ...world, left }, today))).toBe('fell');
  });
});

describe('the use while the dose swings', () => {
  // Too much on three days running, then too little on three, as told: the same each day.
  const swinging = (mean: number): DemandRecord => {
    const { log } = record({ days: 180, use: () => usual });
    const readings: DemandReading[] = [];
    let level = 3;
    for (let ago = 180; ago >= 0; ago -= 1) {
      readings.push(reading(today - ago, level + (ago % 2 === 0 ? 0.01 : -0.01)));
      const off = ago > 20 ? 0 : (Math.floor(ago / 3) % 2 === 0 ? 1 : -1) * 0.7 * usual;
      level += off - (ago > 20 ? 0 : (mean - 1) * usual);
    }
    return { readings, log };
  };

  test('is not said to fall by what the swing alone makes', () => {
    const shift = demandShift(swinging(1), today);
    expect(shift?.doseSd).toBeGreaterThan(0.1 * usual);
    expect(outcome(shift)).toBe('as usual');
  });

  test('is judged again where looks into the container say what went in', () => {
    const fallen = swinging(0.5);
    const looked = [-19, -13, -7].map((from) => ({ fromDay: today + from - 1, toDay: today + from + 5 }));
    expect(demandShift(fallen, today)?.looked).toBe(false);
    const seen = demandShift({ ...fallen, looked }, today);
    expect(seen?.looked).toBe(true);
    expect(seen?.doseSd).toBeLessThan((demandShift(fallen, today)?.doseSd ?? 0) / 2);
    expect(outcome(seen)).toBe('fell');
  });
});
