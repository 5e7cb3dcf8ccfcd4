import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  empiricalVariogram,
  fitVariogram,
  lightField,
  mergeSites,
  ordinaryKriging,
  type Site,
  semivariance,
  type Variogram,
} from '../../src/science/kriging.ts';
import { num, type Row, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const meuse: Site[] = referenceTable('kriging_meuse_data').map((row) => ({
  x: num(row, 'x'),
  y: num(row, 'y'),
  value: num(row, 'log_zinc'),
}));

const modelOf = (row: Row): Variogram => ({
  shape: text(row, 'model') === 'Sph' ? 'spherical' : 'exponential',
  nugget: num(row, 'nugget'),
  sill: num(row, 'partial_sill'),
  range: num(row, 'range'),
});

describe('zinc in the topsoil of the Meuse (Rikken & Van Rijn 1993)', () => {
  const variogram = published('empirical variogram of the Meuse', 'gstat 2.1.0', 1e-9);
  const predictions = published('ordinary kriging of the Meuse: value and variance', 'gstat 2.1.0', 1e-8);
  const crossValidation = published('leave-one-out kriging of the Meuse', 'gstat 2.1.0', 1e-8);

  it('has the empirical variogram', () => {
    const bins = empiricalVariogram(meuse, 1500, 100);
    const rows = referenceTable('kriging_meuse_variogram');
    expect(bins).toHaveLength(rows.length);
    for (const [i, row] of rows.entries()) {
      expect(bins[i]?.pairs).toBe(num(row, 'np'));
      variogram.check(bins[i]?.distance ?? Number.NaN, num(row, 'dist'));
      variogram.check(bins[i]?.gamma ?? Number.NaN, num(row, 'gamma'));
    }
  });

  it.each([
    ['Sph', 0.05],
    ['Sph', 0],
    ['Exp', 0.05],
    ['Exp', 0],
  ])('is predicted with its variance (%s, nugget %s)', (model, nugget) => {
    const rows = referenceTable('kriging_meuse_expected').filter(
      (row) => row.model === model && num(row, 'nugget') === nugget,
    );
    const kriging = ordinaryKriging(meuse, modelOf(rows[0] as Row));
    for (const row of rows) {
      const { value, variance } = kriging.at({ x: num(row, 'x'), y: num(row, 'y') });
      predictions.check(value, num(row, 'prediction'));
      predictions.check(variance, num(row, 'variance'));
    }
  });

  it('is predicted at each site from all others', () => {
    const [row] = referenceTable('kriging_meuse_loo');
    if (!row) throw new Error('no row');
    const { rmse, meanError, predictions: left } = ordinaryKriging(meuse, modelOf(row)).leaveOneOut();
    crossValidation.check(rmse, num(row, 'loo_rmse'));
    expect(meanError).toBeCloseTo(num(row, 'loo_mean_error'), 10);
    for (const [i, column] of ['first', 'second', 'third'].entries()) {
      crossValidation.check(left[i]?.value ?? Number.NaN, num(row, `${column}_prediction`));
    }
  });

  it('has a fitted variogram near that of the reference rows', () => {
    const { nugget, sill, range } = fitVariogram(empiricalVariogram(meuse, 1500, 100), 'spherical');
    expect(Math.abs(nugget - 0.05)).toBeLessThan(0.02);
    expect(Math.abs(sill / 0.59 - 1)).toBeLessThan(0.1);
    expect(Math.abs(range / 897 - 1)).toBeLessThan(0.1);
  });
});

describe('variograms', () => {
  it.each(['spherical', 'exponential'] as const)('are found again from exact bins (%s)', (shape) => {
    const model: Variogram = { shape, nugget: 2, sill: 10, range: 5 };
    const bins = [1, 2, 3, 4, 5, 6, 8, 10].map((h) => ({
      pairs: 20,
      distance: h,
      gamma: semivariance(model, h),
    }));
    const fit = fitVariogram(bins, shape);
    expect(fit.nugget).toBeCloseTo(2, 2);
    expect(fit.sill).toBeCloseTo(10, 1);
    expect(fit.range).toBeCloseTo(5, 1);
  });

  it('rise from 0 to nugget and sill', () => {
    const model: Variogram = { shape: 'spherical', nugget: 2, sill: 10, range: 5 };
    expect(semivariance(model, 0)).toBe(0);
    expect(semivariance(model, 1e-9)).toBeCloseTo(2, 6);
    expect(semivariance(model, 5)).toBe(12);
    expect(semivariance(model, 50)).toBe(12);
    expect(semivariance({ ...model, shape: 'exponential' }, 5)).toBeCloseTo(2 + 10 * (1 - Math.exp(-1)), 12);
  });

  it('never get a negative nugget or sill', () => {
    const gamma = fc.double({ min: 0, max: 100, noNaN: true });
    fc.assert(
      fc.property(fc.array(gamma, { minLength: 3, maxLength: 8 }), (gammas) => {
        const bins = gammas.map((g, i) => ({ pairs: 5, distance: i + 1, gamma: g }));
        const { nugget, sill } = fitVariogram(bins, 'spherical');
        expect(nugget).toBeGreaterThanOrEqual(0);
        expect(sill).toBeGreaterThanOrEqual(0);
      }),
    );
    expect(() => fitVariogram([], 'spherical')).toThrow('number of bins 0 is outside');
  });
});

describe('ordinary kriging', () => {
  const model: Variogram = { shape: 'exponential', nugget: 5, sill: 900, range: 3 };
  const place = fc.record({ x: fc.integer({ min: 0, max: 11 }), y: fc.integer({ min: 0, max: 19 }) });
  const sitesOf = (places: { x: number; y: number }[]) =>
    mergeSites(places.map((p, i) => ({ ...p, value: 100 + ((i * 37) % 90) })));

  it('is exact at its sites, with no error there', () => {
    fc.assert(
      fc.property(fc.array(place, { minLength: 1, maxLength: 20 }), (places) => {
        const sites = sitesOf(places);
        const kriging = ordinaryKriging(sites, model);
        for (const site of sites) {
          expect(kriging.at(site).value).toBeCloseTo(site.value, 6);
          expect(kriging.at(site).variance).toBeCloseTo(0, 6);
        }
      }),
    );
  });

  it('moves and stretches with the values', () => {
    fc.assert(
      fc.property(fc.array(place, { minLength: 3, maxLength: 15 }), place, (places, target) => {
        const sites = sitesOf(places);
        const scaled = sites.map((s) => ({ ...s, value: 2 * s.value + 30 }));
        const plain = ordinaryKriging(sites, model).at(target).value;
        expect(ordinaryKriging(scaled, model).at(target).value).toBeCloseTo(2 * plain + 30, 5);
      }),
    );
  });

  it('leaves one out as if that site had never been measured', () => {
    const sites = sitesOf([0, 3, 7, 10, 5, 2].map((x, i) => ({ x, y: (i * 5) % 13 })));
    const { predictions } = ordinaryKriging(sites, model).leaveOneOut();
    for (const [i, site] of sites.entries()) {
      const without = ordinaryKriging(sites.toSpliced(i, 1), model).at(site);
      expect(predictions[i]?.value).toBeCloseTo(without.value, 6);
      expect(predictions[i]?.variance).toBeCloseTo(without.variance, 6);
    }
  });

  it('refuses two sites at one place and a variogram of nothing', () => {
    const twice = [
      { x: 1, y: 1, value: 5 },
      { x: 1, y: 1, value: 6 },
    ];
    expect(() => ordinaryKriging(twice, model)).toThrow('number of distinct places 1 is outside');
    expect(mergeSites(twice)).toEqual([{ x: 1, y: 1, value: 5.5 }]);
    expect(() => ordinaryKriging([{ x: 0, y: 0, value: 1 }], { ...model, nugget: 0, sill: 0 })).toThrow(
      /must be above 0/,
    );
  });
});

describe('light on a rack', () => {
  /** Two lamps above a rack of 12 x 20 slots, umol/(m2 s). */
  const lamps = (x: number, y: number) =>
    280 * Math.exp(-((x - 5.5) ** 2 + (y - 5) ** 2) / 60) +
    250 * Math.exp(-((x - 5.5) ** 2 + (y - 14) ** 2) / 60);
  const survey = (count: number): Site[] =>
    Array.from({ length: count }, (_, i) => {
      const [x, y] = [(i * 7) % 12, (i * 11 + Math.floor(i / 4)) % 20];
      return { x, y, value: lamps(x, y) };
    });

  it('is met within its standard error at most slots', () => {
    const field = lightField(survey(20));
    expect(field.basis).toBe('fitted');
    let [held, slots, square] = [0, 0, 0];
    for (let x = 0; x < 12; x++) {
      for (let y = 0; y < 20; y++) {
        const { value, sd } = field.at({ x, y });
        slots += 1;
        square += (value - lamps(x, y)) ** 2;
        if (Math.abs(value - lamps(x, y)) <= 2 * (sd ?? 0)) held += 1;
      }
    }
    expect(held / slots).toBeGreaterThan(0.9);
    expect(Math.sqrt(square / slots)).toBeLessThan(40);
    expect(field.leaveOneOut?.rmse).toBeLessThan(80);
  });

  it('is what was read where it was read, with the meter’s error', () => {
    const [first] = survey(20);
    if (!first) throw new Error('no reading');
    const { value, sd, basis } = lightField(survey(20)).at(first);
    expect(value).toBeCloseTo(first.value, 6);
    expect(sd).toBeCloseTo(0.03 * first.value, 3);
    expect(basis).toBe('measured');
  });

  it('says where it lies outside the readings', () => {
    const field = lightField([2, 4, 6].map((x) => ({ x, y: x, value: 100 + x })));
    expect(field.at({ x: 3, y: 3 }).basis).toBe('between readings');
    expect(field.at({ x: 9, y: 3 }).basis).toBe('outside the readings');
    expect(field.at({ x: 9, y: 3 }).sd).toBeGreaterThan(field.at({ x: 3, y: 3 }).sd ?? Infinity);
  });

  it('is the one reading everywhere when there is one, with no error to give', () => {
    const field = lightField([{ x: 3, y: 3, value: 150 }]);
    expect(field.at({ x: 0, y: 0 })).toEqual({ value: 150, sd: null, basis: 'outside the readings' });
    expect(field.at({ x: 3, y: 3 }).sd).toBeCloseTo(4.5, 9);
  });

  it('assumes a variogram for few readings, for readings on one line and for equal ones', () => {
    const two = lightField([
      { x: 0, y: 0, value: 100 },
      { x: 10, y: 0, value: 200 },
    ]);
    expect(two.basis).toBe('assumed');
    expect(two.at({ x: 5, y: 0 }).value).toBeCloseTo(150, 6);
    const line = lightField(Array.from({ length: 12 }, (_, x) => ({ x, y: 0, value: 100 + 10 * x })));
    expect(line.at({ x: 5, y: 3 }).value).toBeGreaterThan(100);
    const flat = lightField([0, 1, 2, 3].map((x) => ({ x, y: x, value: 120 })));
    expect(flat.at({ x: 1, y: 3 }).value).toBe(120);
    expect(flat.at({ x: 1, y: 3 }).sd).toBeCloseTo(3.6, 9);
  });

  it('is never negative and never without a number', () => {
    const reading = fc.record({
      x: fc.integer({ min: 0, max: 11 }),
      y: fc.integer({ min: 0, max: 19 }),
      value: fc.double({ min: 0, max: 800, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(reading, { minLength: 1, maxLength: 25 }), (readings) => {
        const field = lightField(readings);
        for (const [x, y] of [
          [0, 0],
          [5, 9],
          [11, 19],
          [30, 40],
        ] as const) {
          const { value, sd } = field.at({ x, y });
          expect(value).toBeGreaterThanOrEqual(0);
          expect(Number.isFinite(value)).toBe(true);
          expect(sd === null || Number.isFinite(sd)).toBe(true);
        }
      }),
    );
  });

  it('refuses no readings and a negative one', () => {
    expect(() => lightField([])).toThrow('number of readings 0 must be above 0');
    expect(() => lightField([{ x: 0, y: 0, value: -5 }])).toThrow('light reading -5 must be 0 or above');
  });
});
