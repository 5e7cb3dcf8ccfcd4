import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { mannKendall, type Point, theilSen } from '../../src/science/trend.ts';
import { num, type Row, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const data = referenceTable('trend_mann_kendall_data');

function series(result: Row): Point[] {
  const rows = data.filter((row) => row.dataset === text(result, 'dataset') && row.y !== '');
  const time = (row: Row) => {
    if (text(result, 'slope_unit').endsWith('per day')) return num(row, 'days_since_first');
    // Months of the phosphorus series are printed to 4 decimals of a year.
    return text(result, 'dataset').startsWith('speed') ? num(row, 'i') / 12 : num(row, 'time_as_published');
  };
  return rows.map((row) => ({ time: time(row), value: num(row, 'y') }));
}

describe('Mann-Kendall and Theil-Sen', () => {
  const exact = published(
    'Mann-Kendall S, variance, z, tau',
    'USEPA 2009 Unified Guidance and others, by EnvStats 3.1.0 and Kendall 2.2.1',
    3e-6,
  );
  const p = published('Mann-Kendall p', 'EnvStats 3.1.0 and Kendall 2.2.1', 1e-6);
  const slopes = published('Theil-Sen slope', 'EnvStats 3.1.0, scipy 1.10.1', 1e-7);
  const limits = published('Theil-Sen interval (Gilbert 1987)', 'EnvStats 3.1.0', 1e-5);

  it.each(referenceTable('trend_mann_kendall_results').map((row) => [text(row, 'case'), row] as const))(
    '%s',
    (_, row) => {
      const points = series(row);
      const test = mannKendall(points);
      expect(test.n).toBe(num(row, 'n'));
      expect(test.S).toBe(num(row, 'S'));
      exact.check(test.varS, num(row, 'VarS_tie_corrected'));
      exact.check(test.z, num(row, 'Z_continuity_corrected'));
      exact.check(test.tauA, num(row, 'tau_a'));
      exact.check(test.tauB, num(row, 'tau_b'));
      if (test.n > 7) p.check(test.p, num(row, 'p_two_sided_normal'));
      const { slope, low, high } = theilSen(points);
      slopes.check(slope ?? Number.NaN, num(row, 'sen_slope'));
      if (row.slope_LCL95_Gilbert_EnvStats === '') return;
      limits.check(low ?? Number.NaN, num(row, 'slope_LCL95_Gilbert_EnvStats'));
      limits.check(high ?? Number.NaN, num(row, 'slope_UCL95_Gilbert_EnvStats'));
    },
  );
});

describe('Mann-Kendall', () => {
  const small = published('Mann-Kendall exact p, up to 7 points', 'scipy 1.17.1 kendalltau exact', 1e-9);

  it.each(
    referenceTable('trend_kendall_exact').map((row) => [text(row, 'values'), num(row, 'p_exact')] as const),
  )('is exact for the few points %s', (values, p) => {
    small.check(mannKendall(values.split(' ').map((v, time) => ({ time, value: Number(v) }))).p, p);
  });

  it('has the variance of S over all orders of the values, with ties and open bounds alike', () => {
    const values: Omit<Point, 'time'>[] = [
      { value: 2, bound: 'below' },
      { value: 5, bound: 'below' },
      { value: 3 },
      { value: 3 },
      { value: 7 },
      { value: 6, bound: 'above' },
    ];
    const times = [0, 1, 1, 4, 9, 10];
    const sums = permutations(values).map(
      (order) => mannKendall(order.map((v, i) => ({ ...v, time: times[i] ?? 0 }))).S,
    );
    const mean = sums.reduce((a, b) => a + b, 0) / sums.length;
    const variance = sums.reduce((a, b) => a + (b - mean) ** 2, 0) / sums.length;
    expect(mean).toBeCloseTo(0, 9);
    const points = values.map((v, i) => ({ ...v, time: times[i] ?? 0 }));
    expect(mannKendall(points).varS).toBeCloseTo(variance, 9);
  });

  it('takes one detection limit as a tie below all (Gilbert 1987, 16.4)', () => {
    const points = [5, 5, 6, 5, 8, 9, 5, 7, 10, 12, 11].map((value, time) => ({ time, value }));
    const censored = points.map((p) => (p.value === 5 ? { ...p, bound: 'below' as const } : p));
    const lower = points.map((p) => (p.value === 5 ? { ...p, value: 0 } : p));
    expect(mannKendall(censored)).toEqual(mannKendall(lower));
  });

  it('only asks for the order of values and times', () => {
    const point = fc.record({ time: fc.integer({ min: 0, max: 30 }), value: fc.integer({ min: 0, max: 9 }) });
    fc.assert(
      fc.property(fc.array(point, { minLength: 9, maxLength: 20 }), (points) => {
        const bent = points.map(({ time, value }) => ({ time: time ** 3, value: Math.exp(value) }));
        const turned = points.map(({ time, value }) => ({ time, value: -value }));
        expect(mannKendall(bent)).toEqual(mannKendall(points));
        expect(mannKendall(turned).S).toBe(-mannKendall(points).S || 0);
        expect(mannKendall(points).p).toBeLessThanOrEqual(1);
      }),
    );
  });

  it('says nothing of values that are all equal, and refuses too few', () => {
    const flat = [1, 2, 3].map((time) => ({ time, value: 4 }));
    expect(mannKendall(flat)).toMatchObject({ S: 0, z: 0, p: 1, tauB: 0 });
    expect(() => mannKendall(flat.slice(1))).toThrow('number of points 2 is outside');
    expect(() => mannKendall([...flat, { time: 4, value: Number.NaN }])).toThrow('value NaN');
  });
});

describe('Theil-Sen', () => {
  const number = fc.double({ min: -100, max: 100, noNaN: true });

  it('finds a line exactly, whatever a third of the points do', () => {
    fc.assert(
      fc.property(number, number, (a, b) => {
        const points = Array.from({ length: 12 }, (_, t) => ({ time: t * t, value: a + b * t * t }));
        const spoilt = points.map((p, i) => (i % 5 === 2 ? { ...p, value: p.value + 1e4 } : p));
        expect(theilSen(spoilt).slope).toBeCloseTo(b, 6);
        expect(theilSen(spoilt).intercept).toBeCloseTo(a, 6);
      }),
    );
  });

  it('is the slope at which Kendall’s S of what is left passes 0, bounds and all', () => {
    const random = seededRandom(6);
    for (let trial = 0; trial < 60; trial++) {
      const points: Point[] = Array.from({ length: 15 }, (_, i) => {
        const point = { time: i + random.uniform(), value: i * 0.4 + 3 * random.normal() };
        return random.uniform() < 0.3
          ? { ...point, bound: random.uniform() < 0.7 ? 'below' : 'above' }
          : point;
      });
      const { slope } = theilSen(points);
      const left = (b: number) => mannKendall(points.map((p) => ({ ...p, value: p.value - b * p.time }))).S;
      if (slope === null) continue;
      expect(left(slope - 1e-7)).toBeGreaterThanOrEqual(0);
      expect(left(slope + 1e-7)).toBeLessThanOrEqual(0);
    }
  });

  it('does not take readings under detection for zero', () => {
    const rising = [4, 6, 8, 10, 12, 14, 16].map((value, time) => ({ time, value }));
    const censored = rising.map((p) => (p.value <= 8 ? { ...p, value: 8, bound: 'below' as const } : p));
    expect(theilSen(rising).slope).toBe(2);
    expect(theilSen(censored).slope).toBe(2);
    const asZero = rising.map((p) => (p.value <= 8 ? { ...p, value: 0 } : p));
    expect(theilSen(asZero).slope).toBeGreaterThan(2.5);
  });

  it('holds the true slope 19 times in 20', () => {
    const random = seededRandom(2);
    let held = 0;
    for (let i = 0; i < 400; i++) {
      const points = Array.from({ length: 20 }, (_, t) => ({ time: t, value: 0.3 * t + random.normal() }));
      const { low, high } = theilSen(points);
      if ((low ?? -Infinity) <= 0.3 && 0.3 <= (high ?? Infinity)) held += 1;
    }
    expect(held).toBeGreaterThan(368);
  });

  it('leaves open what too few points cannot say', () => {
    const three = [1, 2, 3].map((time) => ({ time, value: time * 2 }));
    expect(theilSen(three)).toMatchObject({ slope: 2, low: null, high: null });
    const same = [1, 1, 1].map((time, i) => ({ time, value: i }));
    expect(theilSen(same)).toEqual({ slope: null, low: null, high: null, intercept: null, pairs: 0 });
    expect(() => theilSen(three, 1)).toThrow(/probability 1 is outside/);
  });
});

function permutations<T>(items: T[]): T[][] {
  if (items.length <= 1) return [items];
  return items.flatMap((item, i) => permutations(items.toSpliced(i, 1)).map((rest) => [item, ...rest]));
}
