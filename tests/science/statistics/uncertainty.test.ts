import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { coverageFactor, studentWithin } from '../../../src/science/statistics/student.ts';
import {
  agreement,
  combine,
  propagate,
  rectangular,
  weightedMean,
} from '../../../src/science/statistics/uncertainty.ts';
import { num, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const examples = referenceTable('uncertainty_worked_examples');

function example(name: string, quantity: string) {
  const row = examples.find((r) => r.example === name && r.quantity === quantity);
  if (!row) throw new Error(`no ${name} ${quantity}`);
  return row;
}

const meanOf = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** Covariance of the means of paired repeats (GUM 5.2.3). */
function covariance(a: readonly number[], b: readonly number[]): number {
  const [meanA, meanB] = [meanOf(a), meanOf(b)];
  const sum = a.reduce((total, value, i) => total + (value - meanA) * ((b[i] ?? Number.NaN) - meanB), 0);
  return sum / (a.length * (a.length - 1));
}

/** Half a unit of the last digit that the source prints. */
const printed = (cell: string) => 0.5 * 10 ** -(cell.split('.')[1]?.length ?? 0);

describe('GUM H.2, resistance and reactance from repeats of three quantities', () => {
  const data = referenceTable('uncertainty_gum_h2_data');
  const columns = ['V_volt', 'I_ampere', 'phi_radian'].map((c) => data.map((row) => num(row, c)));
  const inputs = columns.map((column) => ({
    value: meanOf(column),
    u: Math.sqrt(covariance(column, column)),
  }));
  const correlation = columns.map((a) =>
    columns.map((b) => covariance(a, b) / Math.sqrt(covariance(a, a) * covariance(b, b))),
  );
  const exact = published(
    'GUM H.2, means, uncertainties, correlations',
    'JCGM 100:2008 H.2, recomputed',
    1e-3,
  );

  it('has the means and uncertainties of the inputs', () => {
    for (const [i, name] of ['V', 'I', 'phi'].entries()) {
      exact.check(inputs[i]?.value ?? 0, num(example('GUM H.2', `mean ${name}`), 'published'));
      exact.check(inputs[i]?.u ?? 0, num(example('GUM H.2', `u(${name})`), 'computed'));
    }
  });

  it.each([
    ['R', 'R = V cos(phi)/I', (v: number, i: number, p: number) => (v * Math.cos(p)) / i],
    ['X', 'X = V sin(phi)/I', (v: number, i: number, p: number) => (v * Math.sin(p)) / i],
    ['Z', 'Z = V/I', (v: number, i: number) => v / i],
  ] as const)('has %s and its uncertainty', (name, quantity, f) => {
    const result = propagate(f as (...values: number[]) => number, inputs, correlation);
    exact.check(result.value, num(example('GUM H.2', quantity), 'computed'));
    exact.check(result.u, num(example('GUM H.2', `u(${name})`), 'computed'));
  });

  it('would be nearly three times as unsure of R without the correlations', () => {
    const alone = propagate((v, i, p) => ((v ?? 0) * Math.cos(p ?? 0)) / (i ?? 1), inputs);
    exact.check(alone.u, num(example('GUM H.2 ignoring correlation', 'u(R)'), 'computed'));
  });
});

describe('worked examples', () => {
  const eurachem = published('EURACHEM/CITAC A1, a cadmium standard', 'EURACHEM/CITAC QUAM example A1', 1e-6);
  const gauge = published('GUM H.1, an end gauge', 'JCGM 100:2008 H.1, as in the GTC documentation', {
    absolute: 0.5,
  });

  it('EURACHEM A1: purity, mass and volume make a concentration', () => {
    const value = (quantity: string) => num(example('EURACHEM A1', quantity), 'computed');
    expect(Math.abs(rectangular(0.0001) - num(example('EURACHEM A1', 'u(P)'), 'published'))).toBeLessThan(
      5e-7,
    );
    const result = propagate(
      (m, P, v) => (1000 * (m ?? 0) * (P ?? 0)) / (v ?? 1),
      [
        { value: value('mass m'), u: 0.05 },
        { value: value('purity P'), u: 0.000058 },
        { value: value('volume V'), u: 0.07 },
      ],
    );
    eurachem.check(result.value, value('concentration 1000 m P/V'));
    eurachem.check(result.u, value('combined standard uncertainty'));
    const row = text(example('EURACHEM A1', 'combined standard uncertainty'), 'published');
    expect(Math.abs(result.u - Number(row))).toBeLessThanOrEqual(printed(row));
    // u(V): triangular 0.1 (GUM 4.3.9), repeatability 0.02, temperature 4 K rectangular times 2.1e-4 per K of 100 mL
    const u = combine(0.1 / Math.sqrt(6), 0.02, rectangular(100 * 2.1e-4 * 4));
    expect(Math.abs(u - 0.07)).toBeLessThan(0.005);
  });

  it('GUM H.1: contributions combine', () => {
    const rows = examples.filter((r) => r.example === 'GUM H.1' && r.quantity?.startsWith('component'));
    const parts = rows.map((row) => num(row, 'published'));
    gauge.check(combine(...parts), num(example('GUM H.1', 'combined standard uncertainty'), 'published'));
  });
});

describe('Student’s t', () => {
  const factors = published('Student’s t, coverage factors', 'scipy 1.17.1 t.ppf', 1e-9);
  const large = published('Student’s t above 2000 degrees of freedom', 'scipy 1.17.1 t.ppf', 1e-6);

  it.each(
    referenceTable('student_t').map((row) => [num(row, 'level'), num(row, 'dof'), num(row, 't')] as const),
  )('level %s, %s degrees of freedom', (level, dof, t) => {
    (dof > 2000 ? large : factors).check(coverageFactor(level, dof), t);
    if (dof <= 2000) factors.check(studentWithin(t, dof), level);
  });

  it('rounds down as GUM G.4.1 and refuses nonsense', () => {
    expect(coverageFactor(0.95, 16.75)).toBe(coverageFactor(0.95, 16));
    expect(coverageFactor(0.95)).toBeCloseTo(1.959964, 6);
    expect(() => coverageFactor(1, 5)).toThrow(/probability 1 is outside/);
    expect(() => coverageFactor(0.95, 0.5)).toThrow(RangeError);
  });
});

describe('weighted mean', () => {
  const pooled = published(
    'weighted mean, 13 trials',
    'R metafor, dat.bcg fixed effects (Q = 152.2330 on 12)',
    {
      absolute: 6e-5,
    },
  );

  it('pools thirteen trials of one vaccine', () => {
    const trials = referenceTable('uncertainty_bcg').map((row) => {
      const [a, b, c, d] = ['tpos', 'tneg', 'cpos', 'cneg'].map((column) => num(row, column)) as [
        number,
        number,
        number,
        number,
      ];
      const u = Math.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d));
      return { value: Math.log(a / (a + b) / (c / (c + d))), u };
    });
    const { value, u, chiSquare, dof, uScatter } = weightedMean(trials);
    pooled.check(chiSquare, 152.233);
    expect(dof).toBe(12);
    // The same two by their definitions in numpy 2.4.6.
    expect(value).toBeCloseTo(-0.4302851636540906, 12);
    expect(u).toBeCloseTo(0.04049875171086381, 12);
    expect(uScatter).toBeCloseTo(u * Math.sqrt(152.233 / 12), 6);
  });

  it('lies between the readings and is surer than any', () => {
    const reading = fc.record({
      value: fc.double({ min: -1e3, max: 1e3, noNaN: true }),
      u: fc.double({ min: 1e-3, max: 1e3, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(reading, { minLength: 1, maxLength: 8 }), (readings) => {
        const { value, u } = weightedMean(readings);
        const values = readings.map((r) => r.value);
        expect(value).toBeGreaterThanOrEqual(Math.min(...values) - 1e-6);
        expect(value).toBeLessThanOrEqual(Math.max(...values) + 1e-6);
        expect(u).toBeLessThanOrEqual(Math.min(...readings.map((r) => r.u)) * (1 + 1e-12));
      }),
    );
  });

  it('refuses no readings and a reading without uncertainty', () => {
    expect(() => weightedMean([])).toThrow('number of readings 0 is outside');
    expect(() => weightedMean([{ value: 1, u: 0 }])).toThrow('standard uncertainty 0 must be above 0');
  });
});

describe('agreement of two readings', () => {
  it('is judged by the normalised error', () => {
    const close = agreement({ value: 8.2, u: 0.1 }, { value: 8.4, u: 0.1 });
    expect(close.normalisedError).toBeCloseTo(-0.2 / (2 * Math.SQRT2 * 0.1), 12);
    expect(close.agree).toBe(true);
    expect(agreement({ value: 8.2, u: 0.1 }, { value: 8.6, u: 0.1 }).agree).toBe(false);
  });

  it('does not depend on the order or the unit', () => {
    const [a, b] = [
      { value: 8.2, u: 0.1 },
      { value: 8.5, u: 0.2 },
    ];
    const scaled = (m: typeof a) => ({ value: m.value / 2.8, u: m.u / 2.8 });
    expect(agreement(b, a).normalisedError).toBeCloseTo(-agreement(a, b).normalisedError, 12);
    expect(agreement(scaled(a), scaled(b)).normalisedError).toBeCloseTo(agreement(a, b).normalisedError, 12);
  });

  it('lets about 1 pair in 22 of equal things disagree (k = 2: 4.6 %)', () => {
    expect(1 - studentWithin(2, 1e9)).toBeCloseTo(0.0455, 3);
    expect(() => agreement({ value: 1, u: 0 }, { value: 2, u: 0 })).toThrow(/must be above 0/);
  });
});

describe('building blocks', () => {
  it('have the divisor of GUM 4.3.7', () => {
    expect(rectangular(3)).toBeCloseTo(Math.sqrt(3), 12);
    expect(combine(3, 4)).toBe(5);
  });

  it('refuse what cannot be', () => {
    expect(() => combine(-1)).toThrow(RangeError);
    expect(() => propagate((x) => Math.sqrt(x ?? 0), [{ value: -1, u: 1 }])).toThrow('result NaN');
  });
});
