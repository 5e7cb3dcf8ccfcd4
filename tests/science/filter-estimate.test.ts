import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  at,
  correct,
  correctBound,
  type Estimate,
  loosen,
  predict,
  reset,
} from '../../src/science/filter/estimate.ts';
import { LaggedMean } from '../../src/science/filter/lagged-mean.ts';
import { type SlopeOptions, slopeOptions, trackSlope } from '../../src/science/filter/slope.ts';
import { fitSlopeNoise } from '../../src/science/filter/slope-fit.ts';
import { num, referenceTable } from '../support/csv.ts';
import { published } from '../support/published.ts';

const one = (mean: number, variance: number): Estimate => ({ mean: [mean], cov: [[variance]] });

describe('local level of the Nile (Durbin & Koopman 2012, section 2)', () => {
  const likelihood = published(
    'log likelihood of the Nile under a local level',
    'Durbin & Koopman 2012 model, value of R KFAS as quoted in a public test suite',
    { absolute: 1e-4 },
  );
  const flows = referenceTable('filter_nile').map((row) => ({
    day: num(row, 'year'),
    value: num(row, 'flow'),
    sd: 1e-6,
  }));
  const model: SlopeOptions = {
    ...slopeOptions(Math.sqrt(15099)),
    levelNoise: Math.sqrt(1469.1),
    slopeNoise: 0,
    firstSlopeSd: 0,
    cut: Infinity,
    jumpAfter: Infinity,
  };

  it('has the published likelihood', () => {
    const { logLikelihood } = trackSlope(flows, 1970, model);
    // The first flow only starts the level (exactly diffuse); 99 are predicted.
    likelihood.check(logLikelihood - (99 / 2) * Math.log(2 * Math.PI), -632.5456);
  });

  it('settles at the closed-form variance and gain of the random walk with noise', () => {
    const { history } = trackSlope(flows, 1970, model);
    const predicted = (1469.1 + Math.sqrt(1469.1 ** 2 + 4 * 1469.1 * 15099)) / 2;
    expect((history.at(-1)?.levelSd ?? 0) ** 2).toBeCloseTo((predicted * 15099) / (predicted + 15099), 6);
    // The last filtered level is the last smoothed one: 798.4 in their Table 2.1, as quoted in the same suite.
    expect(history.at(-1)?.level).toBeCloseTo(798.4, 0);
  });

  it('finds noises near the published ones when it fits them', () => {
    const { options, gain } = fitSlopeNoise(flows, { ...model, swing: 60, levelNoise: 60 });
    expect(gain).toBeGreaterThan(0);
    expect(options.swing / Math.sqrt(15098.53)).toBeGreaterThan(0.8);
    expect(options.swing / Math.sqrt(15098.53)).toBeLessThan(1.25);
    expect(options.levelNoise / Math.sqrt(1469.178)).toBeGreaterThan(0.6);
    expect(options.levelNoise / Math.sqrt(1469.178)).toBeLessThan(1.7);
  });
});

describe('estimates', () => {
  const number = fc.double({ min: -100, max: 100, noNaN: true });
  const spread = fc.double({ min: 0.01, max: 100, noNaN: true });

  it('weigh prior and observation by their precisions, in either order (conjugate normal)', () => {
    fc.assert(
      fc.property(number, spread, number, spread, number, spread, (m, v, y1, r1, y2, r2) => {
        const see = (estimate: Estimate, y: number, variance: number) =>
          correct(estimate, { expected: estimate.mean[0] ?? 0, slopes: [1], variance }, y).estimate;
        const forth = see(see(one(m, v), y1, r1), y2, r2);
        const back = see(see(one(m, v), y2, r2), y1, r1);
        const precision = 1 / v + 1 / r1 + 1 / r2;
        expect(forth.mean[0]).toBeCloseTo((m / v + y1 / r1 + y2 / r2) / precision, 6);
        expect(at(forth.cov, 0, 0)).toBeCloseTo(1 / precision, 6);
        expect(back.mean[0]).toBeCloseTo(forth.mean[0] ?? Number.NaN, 6);
      }),
    );
  });

  it('carry a level and its slope forward as the matrices say', () => {
    const start = {
      mean: [5, 2],
      cov: [
        [1, 0.5],
        [0.5, 4],
      ],
    };
    const ahead = predict(
      start,
      [
        [1, 3],
        [0, 1],
      ],
      [
        [0.1, 0],
        [0, 0.2],
      ],
    );
    expect(ahead.mean).toEqual([11, 2]);
    expect(at(ahead.cov, 0, 0)).toBeCloseTo(1 + 2 * 3 * 0.5 + 9 * 4 + 0.1, 12);
    expect(at(ahead.cov, 0, 1)).toBeCloseTo(0.5 + 3 * 4, 12);
  });

  it('are moved by a slip no further than the cut allows', () => {
    const sight = { expected: 10, slopes: [1], variance: 1 };
    const slip = correct(one(10, 1), sight, 1000, 2.2);
    expect(slip.cut).toBe(true);
    expect(slip.estimate.mean[0]).toBeCloseTo(10 + (2.2 * Math.SQRT2) / 2, 12);
    expect(correct(one(10, 1), sight, 11, 2.2).cut).toBe(false);
  });

  it('learn nothing from a bound far off and are pushed under one close by', () => {
    const sight = { expected: 1, slopes: [1], variance: 0.04 };
    const far = correctBound(one(1, 0.09), sight, 50, 'below').estimate;
    expect(far.mean[0]).toBeCloseTo(1, 9);
    expect(at(far.cov, 0, 0)).toBeCloseTo(0.09, 9);
    const near = correctBound(one(1, 0.09), sight, 0.5, 'below').estimate;
    expect(near.mean[0]).toBeLessThan(0.7);
    expect(at(near.cov, 0, 0)).toBeLessThan(0.09);
  });

  it('agree on a bound with direct integration of prior times likelihood', () => {
    const [prior, noise, bound] = [{ mean: 2, sd: 0.8 }, 0.5, 1.2];
    let [mass, first, second] = [0, 0, 0];
    for (let x = -3; x <= 7; x += 0.001) {
      let below = 0;
      for (let e = -3; e <= 3; e += 0.05) below += x + e * noise < bound ? Math.exp((-e * e) / 2) : 0;
      const weight = Math.exp(-(((x - prior.mean) / prior.sd) ** 2) / 2) * below;
      mass += weight;
      first += weight * x;
      second += weight * x * x;
    }
    const sight = { expected: prior.mean, slopes: [1], variance: noise ** 2 };
    const { estimate } = correctBound(one(prior.mean, prior.sd ** 2), sight, bound, 'below');
    expect(estimate.mean[0]).toBeCloseTo(first / mass, 1);
    expect(at(estimate.cov, 0, 0)).toBeCloseTo(second / mass - (first / mass) ** 2, 1);
  });

  it('forget or loosen one state and leave the others', () => {
    const start = {
      mean: [5, 2],
      cov: [
        [1, 0.5],
        [0.5, 4],
      ],
    };
    expect(reset(start, 1, 0, 3)).toEqual({
      mean: [5, 0],
      cov: [
        [1, 0],
        [0, 9],
      ],
    });
    expect(loosen(start, 0, 2)).toEqual({
      mean: [5, 2],
      cov: [
        [3, 0.5],
        [0.5, 4],
      ],
    });
    expect(() => loosen(start, 0, -1)).toThrow(RangeError);
  });
});

describe('the lagged mean', () => {
  it('leaves out what is younger than the lag', () => {
    const mean = new LaggedMean(28, 150);
    for (let day = 0; day < 28; day++) mean.add(day, day < 5 ? 10 : 99);
    expect(mean.at(27)).toBeNull();
    expect(mean.at(32)).toBe(10);
  });

  it('weighs samples by exp(-age/memory)', () => {
    const mean = new LaggedMean(0, 10);
    mean.add(0, 1);
    mean.add(10, 2);
    expect(mean.at(10)).toBeCloseTo((Math.exp(-1) + 2) / (Math.exp(-1) + 1), 12);
  });
});
