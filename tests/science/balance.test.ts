import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type BalanceEvents, type BalanceReading, netRate } from '../../src/science/balance.ts';
import { daysToLimit } from '../../src/science/statistics/crossing.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { num, referenceTable } from '../support/csv.ts';
import { published } from '../support/published.ts';

/** Follows water exactly through its events and reads it on the given days. */
function water(start: number, rate: number, days: number[], events: BalanceEvents): BalanceReading[] {
  const marks = [
    ...days.map((day) => ({ day, order: 0, read: true })),
    ...(events.changes ?? []).map((c) => ({ ...c, order: 1 })),
    ...(events.doses ?? []).map((d) => ({ ...d, order: 1 })),
  ].sort((a, b) => a.day - b.day || a.order - b.order);
  let [level, now] = [start, marks[0]?.day ?? 0];
  const readings: BalanceReading[] = [];
  for (const mark of marks) {
    level += rate * (mark.day - now);
    now = mark.day;
    if ('read' in mark) readings.push({ day: now, value: level, u: 0.1 });
    else if ('fraction' in mark) level = level * (1 - mark.fraction) + mark.makeUp * mark.fraction;
    else level += mark.rise;
  }
  return readings;
}

const events: BalanceEvents = {
  changes: [
    { day: 4, fraction: 0.15, makeUp: 8 },
    { day: 11.5, fraction: 0.3, makeUp: 7 },
  ],
  doses: [2, 5, 8, 11, 13].map((day) => ({ day, rise: 0.9 })),
};

describe('net rate between readings', () => {
  const certified = published('straight line by least squares', 'NIST StRD Norris, certified values', 1e-10);

  it('is the certified slope when nothing was changed or dosed', () => {
    // Certified residual SD 0.884796396144373; slope 1.00211681802045 +- 0.000429796848199937.
    const u = 0.884796396144373;
    const rows = referenceTable('regression_nist_norris');
    const fit = netRate(rows.map((row) => ({ day: num(row, 'x'), value: num(row, 'y'), u })));
    certified.check(fit.perDay, 1.00211681802045);
    certified.check(fit.sd, 0.429796848199937e-3);
    certified.check(fit.level - 999 * fit.perDay, -0.262323073774029);
    certified.check(fit.chiSquare, 34);
    expect(fit.dof).toBe(34);
  });

  it('recovers the true rate exactly, whatever was changed and dosed (conservation)', () => {
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    const change = fc.record({ day: number(0, 20), fraction: number(0, 0.6), makeUp: number(0, 20) });
    const dose = fc.record({ day: number(0, 20), rise: number(-2, 2) });
    fc.assert(
      fc.property(
        number(0, 50),
        number(-2, 2),
        fc.array(change, { maxLength: 5 }),
        fc.array(dose, { maxLength: 5 }),
        (start, rate, changes, doses) => {
          const fit = netRate(water(start, rate, [0, 3, 7, 19, 20], { changes, doses }), { changes, doses });
          expect(fit.perDay).toBeCloseTo(rate, 6);
          expect(fit.chiSquare).toBeLessThan(1e-12);
        },
      ),
    );
  });

  it('is the plain balance of two readings', () => {
    const { perDay, sd, dof } = netRate(
      [
        { day: 0, value: 8.5, u: 0.1 },
        { day: 4, value: 7.9, u: 0.2 },
      ],
      { doses: [{ day: 2, rise: 1.4 }] },
    );
    expect(perDay).toBeCloseTo((7.9 - 8.5 - 1.4) / 4, 12);
    expect(sd).toBeCloseTo(Math.hypot(0.1, 0.2) / 4, 12);
    expect(dof).toBe(0);
  });

  it('takes a reading before the change or dose of the same moment', () => {
    const readings = water(8, -0.3, [0, 4, 8], events);
    expect(netRate(readings, events).perDay).toBeCloseTo(-0.3, 9);
  });

  it('ignores what was done before the first reading', () => {
    const early = { ...events, doses: [...(events.doses ?? []), { day: -3, rise: 50 }] };
    const readings = water(8, -0.3, [0, 7, 14], events);
    expect(netRate(readings, early).perDay).toBeCloseTo(-0.3, 9);
  });

  it('does not depend on the order of the readings', () => {
    const readings = water(8, -0.3, [0, 3, 7, 14], events).map((r, i) => ({
      ...r,
      value: r.value + 0.05 * i,
    }));
    expect(netRate([...readings].reverse(), events)).toEqual(netRate(readings, events));
  });

  it('is as unsure of the doses as their strength', () => {
    const doses = [1, 2, 3, 4, 5, 6, 7, 8, 9].map((day) => ({ day, rise: 1 }));
    const readings = water(8, -1, [0, 10], { doses });
    const exact = netRate(readings, { doses });
    const unsure = netRate(readings, { doses, doseRelativeSd: 0.1 });
    expect(Math.sqrt(unsure.sd ** 2 - exact.sd ** 2)).toBeCloseTo(0.9 * 0.1, 9);
  });

  it('holds the true rate 19 times in 20', () => {
    const random = seededRandom(1);
    let held = 0;
    for (let i = 0; i < 1000; i++) {
      const readings = water(8, -0.3, [0, 2, 5, 9, 14], events).map((r) => ({
        ...r,
        value: r.value + 0.1 * random.normal(),
      }));
      const { low, high } = netRate(readings, events);
      if (low <= -0.3 && -0.3 <= high) held += 1;
    }
    expect(held).toBeGreaterThan(935);
  });

  it('widens when the readings scatter more than they should', () => {
    const calm = [0, 2, 4, 6, 8].map((day) => ({ day, value: 8, u: 0.1 }));
    const wild = calm.map((r, i) => ({ ...r, value: r.value + (i % 2 ? 0.5 : -0.5) }));
    expect(netRate(wild).sd).toBeGreaterThan(3 * netRate(calm).sd);
  });

  it('refuses too little to go by', () => {
    const one = { day: 0, value: 8, u: 0.1 };
    expect(() => netRate([one])).toThrow('number of readings 1 is outside');
    expect(() => netRate([one, one])).toThrow(/spread of the readings in time/);
    expect(() => netRate([one, { ...one, day: 1, u: 0 }])).toThrow(/must be above 0/);
    expect(() =>
      netRate([one, { ...one, day: 1 }], { changes: [{ day: 0, fraction: 2, makeUp: 0 }] }),
    ).toThrow('fraction changed 2 is outside 0 to 1');
  });
});

describe('days to a limit', () => {
  const falling = { level: 8.2, levelSd: 0.05, perDay: -0.1, sd: 0.01 };

  it('is the distance over the rate, with an interval around it', () => {
    const { days, earliest, latest } = daysToLimit(falling, 7);
    expect(days).toBeCloseTo(12, 12);
    expect(earliest).toBeLessThan(12);
    expect(latest).toBeGreaterThan(12);
  });

  it('ends where level + rate x days is just within its uncertainty of the limit (Fieller’s definition)', () => {
    const { earliest, latest } = daysToLimit({ ...falling, cov: 0.0002 }, 7, 0.9);
    for (const t of [earliest, latest ?? Number.NaN]) {
      const sd = Math.sqrt(0.05 ** 2 + 2 * 0.0002 * t + (0.01 * t) ** 2);
      expect(Math.abs(8.2 - 0.1 * t - 7) / sd).toBeCloseTo(1.6448536, 6);
    }
  });

  it('holds the true day as often as it says (simulation)', () => {
    const random = seededRandom(4);
    let held = 0;
    for (let i = 0; i < 2000; i++) {
      const moving = {
        ...falling,
        level: 8.2 + 0.05 * random.normal(),
        perDay: -0.1 + 0.01 * random.normal(),
      };
      const { earliest, latest } = daysToLimit(moving, 7, 0.9);
      if (earliest <= 12 && (latest === null || latest >= 12)) held += 1;
    }
    expect(Math.abs(held / 2000 - 0.9)).toBeLessThan(0.03);
  });

  it('has no last day while the level may as well stand still', () => {
    const { days, earliest, latest } = daysToLimit({ ...falling, sd: 0.09 }, 7);
    expect(days).toBeCloseTo(12, 9);
    expect(earliest).toBeGreaterThan(3);
    expect(latest).toBeNull();
  });

  it('has no day at all when the level surely moves away', () => {
    expect(daysToLimit({ ...falling, perDay: 0.1 }, 7)).toEqual({
      days: null,
      earliest: Infinity,
      latest: null,
    });
    expect(daysToLimit({ ...falling, perDay: 0, sd: 0 }, 7)).toEqual({
      days: null,
      earliest: Infinity,
      latest: null,
    });
  });

  it('may be there already when the level is as good as at the limit', () => {
    expect(daysToLimit(falling, 8.18).earliest).toBe(0);
    expect(daysToLimit(falling, 8.2).days).toBe(0);
    expect(() => daysToLimit(falling, 7, 1)).toThrow(/probability 1 is outside/);
  });
});
