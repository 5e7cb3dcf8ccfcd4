import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  dailyLightMolM2,
  equivalentHours,
  halfSineEquivalentHours,
  lightFractionAt,
  peakParUmolM2S,
  rampedSchedule,
} from '../../../src/science/light.ts';
import { num, type Row, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const printed = published('daily light integral', 'instrument maker, table of PPFD to daily integral', 1e-12);
const rounded = published('daily light integral, rounded', 'Faust, Light Management (38.1 umol/m2/s, 12 h)', {
  absolute: 0.05,
});
const shapes = published(
  'daily light integral of ramps and half sines',
  'integral calculus, table of shapes',
  1e-6,
);

/** Four printed cells of the maker's table are misprints (digits swapped); they are marked there as differing. */
const sound = referenceTable('light_dli').filter((row) => text(row, 'comparison') === 'agrees');
const isFaust = (row: Row) => text(row, 'source').includes('Faust');
const shaped = referenceTable('light_dli').filter((row) => Number.isNaN(Number(text(row, 'photoperiod_h'))));

const hours = fc.double({ min: 0, max: 24, noNaN: true });

describe('the daily light integral', () => {
  it.each(sound)('of $PPFD_umol_m2_s umol/m2/s for $photoperiod_h h is $DLI_published_mol_m2_d', (row) => {
    const result = dailyLightMolM2(num(row, 'PPFD_umol_m2_s'), num(row, 'photoperiod_h'));
    (isFaust(row) ? rounded : printed).check(result, num(row, 'DLI_published_mol_m2_d'));
  });

  it.each(shaped)('of $PPFD_umol_m2_s umol/m2/s, $photoperiod_h, is $DLI_computed_mol_m2_d', (row) => {
    const numbers = [...text(row, 'photoperiod_h').matchAll(/\d+/g)].map(Number);
    const [up = 0, full = 0, down = 0] = numbers;
    const equivalent =
      numbers.length === 1 ? halfSineEquivalentHours(up) : equivalentHours(rampedSchedule(9, up, full, down));
    shapes.check(dailyLightMolM2(num(row, 'PPFD_umol_m2_s'), equivalent), num(row, 'DLI_computed_mol_m2_d'));
  });

  it('gives its peak back', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 5000, noNaN: true }),
        fc.double({ min: 0.1, max: 24, noNaN: true }),
        (par, h) => {
          expect(peakParUmolM2S(dailyLightMolM2(par, h), h)).toBeCloseTo(par, 8);
        },
      ),
    );
  });
});

describe('a schedule of ramps', () => {
  it('may run over midnight without changing its light', () => {
    fc.assert(
      fc.property(hours, hours, (start, full) => {
        expect(equivalentHours(rampedSchedule(start, 0, full, 0))).toBeCloseTo(full, 9);
      }),
    );
    expect(equivalentHours(rampedSchedule(20, 2, 6, 2))).toBeCloseTo(8, 12);
  });

  it('may last the whole day from any hour', () => {
    expect(equivalentHours(rampedSchedule(23.99999999999819, 0, 24, 0))).toBeCloseTo(24, 9);
    expect(equivalentHours(rampedSchedule(0, 0, 24, 0))).toBe(24);
  });

  it('tells the light at an hour', () => {
    const schedule = rampedSchedule(10, 2, 6, 2);
    expect([9, 10, 11, 12, 15, 18, 19, 20, 24].map((hour) => lightFractionAt(schedule, hour))).toEqual([
      0, 0, 0.5, 1, 1, 1, 0.5, 0, 0,
    ]);
    expect(lightFractionAt(rampedSchedule(20, 0, 8, 0), 2)).toBe(1);
    expect(lightFractionAt(rampedSchedule(20, 0, 8, 0), 5)).toBe(0);
  });

  it('of any corners carries the mean of its light over the day', () => {
    const corner = fc.record({ hour: hours, fraction: fc.double({ min: 0, max: 1, noNaN: true }) });
    fc.assert(
      fc.property(fc.array(corner, { minLength: 1, maxLength: 8 }), (corners) => {
        const schedule = corners.toSorted((a, b) => a.hour - b.hour);
        const samples = Array.from({ length: 4800 }, (_, i) => lightFractionAt(schedule, (i + 0.5) / 200));
        const mean = samples.reduce((sum, fraction) => sum + fraction, 0) / samples.length;
        expect(Math.abs(equivalentHours(schedule) - mean * 24)).toBeLessThan(0.06);
      }),
      { numRuns: 30 },
    );
  });

  it('is refused when its hours fall, or when there is too much of it', () => {
    expect(() => equivalentHours([])).toThrow('a light schedule needs at least one corner');
    expect(() =>
      equivalentHours([
        { hour: 12, fraction: 0 },
        { hour: 8, fraction: 1 },
      ]),
    ).toThrow('the hours of a light schedule must not fall: 12, 8');
    expect(() => rampedSchedule(8, 5, 16, 5)).toThrow('photoperiod 26 h is outside 0 to 24 h');
    expect(() => dailyLightMolM2(Number.NaN, 10)).toThrow(RangeError);
    expect(() => peakParUmolM2S(10, 0)).toThrow(RangeError);
  });
});
