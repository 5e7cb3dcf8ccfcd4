import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { gaussLegendre } from '../../src/science/control/gauss-legendre.ts';
import {
  cusumChart,
  cusumRunLength,
  ewmaChart,
  individualsChart,
  westgard,
} from '../../src/science/control.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const limits = referenceTable('spc_nist_limits');
const limit = (chart: string, quantity: string, column = 'published') => {
  const row = limits.find((r) => r.chart === chart && r.quantity === quantity);
  if (!row) throw new Error(`no ${chart} ${quantity}`);
  return num(row, column);
};

describe('individuals chart', () => {
  const nist = published('individuals chart', 'NIST/SEMATECH e-Handbook 6.3.2.2', { absolute: 5e-5 });
  const values = referenceTable('spc_nist_individuals_data').map((row) => num(row, 'x'));

  it('has the handbook’s center, ranges and limits', () => {
    const chart = individualsChart(values);
    nist.check(chart.center, limit('individuals', 'mean'));
    nist.check(chart.meanMovingRange, limit('individuals', 'mean moving range'));
    nist.check(chart.upper, limit('individuals', 'UCL'));
    nist.check(chart.lower, limit('individuals', 'LCL'));
    nist.check(chart.movingRangeUpper, limit('moving range', 'UCL with D4 3.267', 'computed'));
    for (const [i, row] of referenceTable('spc_nist_individuals_data').entries()) {
      if (i > 0) nist.check(chart.movingRanges[i - 1] ?? Number.NaN, num(row, 'moving_range'));
    }
  });

  it('takes its factors from the table of control chart factors (n = 2)', () => {
    const [two] = referenceTable('spc_chart_constants');
    if (!two) throw new Error('no row for n = 2');
    const { sd, movingRangeUpper } = individualsChart([0, 1]);
    nist.check(1 / sd, num(two, 'd2_published'));
    nist.check(movingRangeUpper, num(two, 'D4_published'));
  });

  it('moves and stretches with the values', () => {
    const value = fc.double({ min: -100, max: 100, noNaN: true });
    fc.assert(
      fc.property(fc.array(value, { minLength: 2, maxLength: 30 }), value, (xs, shift) => {
        const [chart, moved] = [individualsChart(xs), individualsChart(xs.map((x) => 2 * x + shift))];
        expect(moved.upper).toBeCloseTo(2 * chart.upper + shift, 6);
        expect(moved.sd).toBeCloseTo(2 * chart.sd, 6);
      }),
    );
    expect(() => individualsChart([1])).toThrow('number of values 1 is outside');
  });
});

describe('EWMA chart', () => {
  const printed = published('EWMA chart, as printed', 'NIST/SEMATECH e-Handbook 6.3.2.4', {
    absolute: 0.0051,
  });
  const steady = published('EWMA chart, steady limits', 'NIST/SEMATECH e-Handbook 6.3.2.4', {
    absolute: 1e-4,
  });
  const exact = published('EWMA chart, limits of each point', 'the same, unrounded', { absolute: 1e-6 });
  const rows = referenceTable('spc_nist_ewma').slice(1);
  const chart = ewmaChart(
    rows.map((row) => num(row, 'x')),
    { target: 50, sd: 2.0539 },
  );

  it('has the handbook’s averages and limits, with no point outside', () => {
    for (const [i, row] of rows.entries()) {
      const point = chart[i];
      printed.check(point?.ewma ?? Number.NaN, num(row, 'ewma_published'));
      exact.check(point?.ewma ?? Number.NaN, num(row, 'ewma_computed'));
      exact.check(point?.lower ?? Number.NaN, num(row, 'LCL_time_varying_computed'));
      exact.check(point?.upper ?? Number.NaN, num(row, 'UCL_time_varying_computed'));
    }
    steady.check(chart.at(-1)?.upper ?? Number.NaN, limit('EWMA', 'steady-state UCL'));
    steady.check(chart.at(-1)?.lower ?? Number.NaN, limit('EWMA', 'steady-state LCL'));
    expect(chart.filter(({ outside }) => outside)).toHaveLength(limit('EWMA', 'points out of control'));
  });

  it('is a chart of single values when the newest has all the weight', () => {
    const [point] = ewmaChart([57], { target: 50, sd: 2, weight: 1 });
    expect(point).toEqual({ value: 57, ewma: 57, lower: 44, upper: 56, outside: true });
    expect(() => ewmaChart([1], { target: 0, sd: 1, weight: 0 })).toThrow(/weight 0 is outside/);
  });
});

describe('CUSUM chart', () => {
  const nist = published('CUSUM, as printed', 'NIST/SEMATECH e-Handbook 6.3.2.3', { absolute: 0.0051 });
  const exact = published('CUSUM, unrounded', 'NIST/SEMATECH e-Handbook 6.3.2.3, recomputed', {
    absolute: 1e-9,
  });
  const rows = referenceTable('spc_nist_cusum');

  it('has the handbook’s sums and signals at observation 14', () => {
    const chart = cusumChart(
      rows.map((row) => num(row, 'x')),
      limit('CUSUM', 'target'),
      limit('CUSUM', 'k (absolute units)'),
      limit('CUSUM', 'h (absolute units)'),
    );
    for (const [i, row] of rows.entries()) {
      nist.check(chart[i]?.high ?? Number.NaN, num(row, 'S_hi_published'));
      nist.check(chart[i]?.low ?? Number.NaN, num(row, 'S_lo_published'));
      exact.check(chart[i]?.high ?? Number.NaN, num(row, 'S_hi_computed'));
      exact.check(chart[i]?.low ?? Number.NaN, num(row, 'S_lo_computed'));
      expect(chart[i]?.signal !== null).toBe(row.signal === 'yes');
    }
    expect(chart.findIndex(({ signal }) => signal) + 1).toBe(limit('CUSUM', 'first signal at observation'));
  });

  it('is the same upside down', () => {
    const xs = rows.map((row) => num(row, 'x') - 325);
    const [up, down] = [
      cusumChart(xs, 0, 0.3, 4),
      cusumChart(
        xs.map((x) => -x),
        0,
        0.3,
        4,
      ),
    ];
    expect(down.map(({ low }) => low)).toEqual(up.map(({ high }) => high));
    expect(() => cusumChart([1], 0, 0, 0)).toThrow('limit h 0 must be above 0');
  });
});

describe('average run length of a CUSUM', () => {
  const three = published(
    'CUSUM average run length',
    'Lucas & Crosier 1982, Vance 1986, Waldmann 1986, SAS/QC, as quoted in R spc',
    0.004,
  );
  // Theirs by 24 nodes; here 40 and 80 nodes agree to 1e-12.
  const digits = published(
    'CUSUM average run length, 7 digits',
    'SAS/QC manual 1999 as quoted in R spc',
    5e-7,
  );

  it.each(
    referenceTable('spc_cusum_arl').map(
      (row) => [text(row, 'source'), num(row, 'h'), num(row, 'shift'), row] as const,
    ),
  )('%s: h %s, shift %s', (source, h, shift, row) => {
    const sided = text(row, 'scheme') === 'one' ? 'one' : 'two';
    const length = cusumRunLength(num(row, 'k'), h, shift, sided);
    (source.startsWith('SAS') ? digits : three).check(length, num(row, 'arl_published'));
  });

  it('falls with the shift and rises with the limit', () => {
    const lengths = [0, 0.5, 1, 2].map((shift) => cusumRunLength(0.5, 5, shift));
    expect(lengths).toEqual([...lengths].sort((a, b) => b - a));
    expect(cusumRunLength(0.5, 5, 0)).toBeGreaterThan(cusumRunLength(0.5, 4, 0));
    expect(() => cusumRunLength(0.5, 0, 0)).toThrow(RangeError);
  });

  it('rests on quadrature that is exact for polynomials', () => {
    const { nodes, weights } = gaussLegendre(5, 0, 2);
    const integral = (power: number) => nodes.reduce((sum, x, i) => sum + (weights[i] ?? 0) * x ** power, 0);
    for (const power of [0, 1, 4, 9]) expect(integral(power)).toBeCloseTo(2 ** (power + 1) / (power + 1), 9);
  });
});

describe('Westgard rules (Westgard et al. 1981; conditions in qc_westgard_rules)', () => {
  const last = (zs: number[], runs?: number[]) =>
    westgard(zs.map((z, i) => (runs ? { z, run: runs[i] ?? 0 } : { z }))).at(-1);

  const table = referenceTable('qc_westgard_rules').map((row) => text(row, 'rule'));

  it.each([
    ['1_2s', [0, 2.1], undefined, 'look again'],
    ['1_3s', [0, -3.1], undefined, 'out of control'],
    ['2_2s', [2.1, 2.2], undefined, 'out of control'],
    ['R_4s', [2.1, -2.1], [1, 1], 'out of control'],
    ['4_1s', [1.1, 1.2, 1.3, 1.4], undefined, 'out of control'],
    ['10_x', [0.1, 0.2, 0.1, 0.3, 0.1, 0.2, 0.1, 0.4, 0.1, 0.1], undefined, 'out of control'],
  ] as const)('%s is broken by %j', (rule, zs, runs, verdict) => {
    expect(table).toContain(rule);
    const judged = last([...zs], runs ? [...runs] : undefined);
    expect(judged?.broken).toContain(rule);
    expect(judged?.verdict).toBe(verdict);
  });

  it.each([
    ['two beyond 2 SD on different sides', [2.1, -2.2], undefined],
    ['three beyond 1 SD', [0.9, 1.2, 1.3, 1.4], undefined],
    ['nine on one side', [-0.1, 0.2, 0.1, 0.3, 0.1, 0.2, 0.1, 0.4, 0.1, 0.1], undefined],
    ['opposite extremes in different runs', [2.1, -2.1], [1, 2]],
  ] as const)('%s reject nothing', (_, zs, runs) => {
    expect(last([...zs], runs ? [...runs] : undefined)?.verdict).not.toBe('out of control');
  });

  it('judge each check by what was known then', () => {
    expect(westgard([{ z: 3.5 }, { z: 0 }]).map(({ verdict }) => verdict)).toEqual([
      'out of control',
      'in control',
    ]);
    expect(() => westgard([{ z: Number.NaN }])).toThrow(RangeError);
  });

  it('are the same upside down', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: -4, max: 4, noNaN: true }), { maxLength: 12 }), (zs) => {
        expect(westgard(zs.map((z) => ({ z: -z })))).toEqual(westgard(zs.map((z) => ({ z }))));
      }),
    );
  });
});
