import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ewmaChart, westgard } from '../../src/science/control.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const limits = referenceTable('spc_nist_limits');
const limit = (chart: string, quantity: string, column = 'published') => {
  const row = limits.find((r) => r.chart === chart && r.quantity === quantity);
  if (!row) throw new Error(`no ${chart} ${quantity}`);
  return num(row, column);
};

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
