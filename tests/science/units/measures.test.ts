import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { convertMeasure, type Measure, unitsOfMeasure } from '../../../src/science/units.ts';
import { published } from '../../support/published.ts';

const exact = published(
  'mass, volume, length',
  'International yard and pound 1959; NIST Handbook 44 App. C',
  1e-15,
);

describe('mass, volume and length', () => {
  it.each<[Measure, string, string, number]>([
    ['mass', 'lb', 'g', 453.59237],
    ['mass', 'oz', 'g', 28.349523125],
    ['mass', 'kg', 'mg', 1e6],
    ['volume', 'gal (US)', 'L', 3.785411784],
    ['volume', 'gal (UK)', 'L', 4.54609],
    ['volume', 'gal (US)', 'fl oz (US)', 128],
    ['volume', 'm3', 'L', 1000],
    ['length', 'in', 'mm', 25.4],
    ['length', 'ft', 'in', 12],
    ['length', 'm', 'cm', 100],
  ])('%s: 1 %s in %s is %d', (measure, from, to, factor) => {
    exact.check(convertMeasure(measure, 1, from, to), factor);
  });

  it('come back as they were', () => {
    const measures: Measure[] = ['mass', 'volume', 'length'];
    const pair = fc.constantFrom(...measures).chain((measure) => {
      const unit = fc.constantFrom(...unitsOfMeasure(measure));
      return fc.tuple(fc.constant(measure), unit, unit);
    });
    fc.assert(
      fc.property(pair, fc.double({ min: 1e-6, max: 1e6, noNaN: true }), ([measure, from, to], value) => {
        const back = convertMeasure(measure, convertMeasure(measure, value, from, to), to, from);
        expect(Math.abs(back - value)).toBeLessThanOrEqual(1e-12 * value);
      }),
    );
  });

  it('refuse an unknown unit and a value that is no number', () => {
    expect(() => convertMeasure('volume', 1, 'gal', 'L')).toThrow(
      /"gal" is not a unit of volume \(its units: L, mL, /,
    );
    expect(() => convertMeasure('mass', Number.NaN, 'g', 'kg')).toThrow(RangeError);
  });
});
