import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { pkNbs, pkTotal, unionisedAmmoniaShare } from '../../src/science/ammonia.ts';
import { num, referenceTable } from '../support/csv.ts';
import { published } from '../support/published.ts';

const epa = published('un-ionised ammonia, NBS scale', 'US EPA 440/5-88-004 (1989), equation', {
  absolute: 1e-6,
});
const clegg = published('pK of ammonium, total scale', 'PyCO2SYS 1.8.3.4 (Clegg & Whitfield 1995)', {
  absolute: 1e-6,
});
const printed = published(
  'un-ionised ammonia at salinity 34',
  'Bower & Bidwell 1978, printed percentages',
  0.085,
);

describe('the share of un-ionised ammonia', () => {
  it('agrees with both models over salinity and temperature', () => {
    for (const row of referenceTable('ammonia_fraction_saltwater_epa1989')) {
      const water = { phScale: 'NBS', salinity: num(row, 'S'), temperatureDegC: num(row, 't_degC') } as const;
      epa.check(pkNbs(water.salinity, water.temperatureDegC), num(row, 'pKa_effective'));
      clegg.check(
        pkTotal(water.salinity, water.temperatureDegC),
        num(row, 'pK_total_scale_Clegg_Whitfield1995'),
      );
      for (const ph of ['7_6', '7_8', '8_0', '8_2', '8_4', '8_6']) {
        epa.check(
          unionisedAmmoniaShare({ ...water, ph: Number(ph.replace('_', '.')) }),
          num(row, `fraction_pH_${ph}`),
        );
      }
    }
  });

  it('agrees with a printed table of the trade within the spread of models', () => {
    const rows = referenceTable('ammonia_percent_fresh_and_sea_published');
    for (const row of rows.filter((candidate) => candidate.percent_seawater_S34_Bower_Bidwell1978 !== '')) {
      const water = {
        ph: num(row, 'pH'),
        phScale: 'NBS',
        salinity: 34,
        temperatureDegC: num(row, 't_degC'),
      } as const;
      printed.check(unionisedAmmoniaShare(water) * 100, num(row, 'percent_seawater_S34_Bower_Bidwell1978'));
    }
  });

  it('is seven times higher after a bag of water has come from pH 7.3 to 8.2', () => {
    const bag = { phScale: 'total', salinity: 35, temperatureDegC: 25 } as const;
    const [low, high] = [
      unionisedAmmoniaShare({ ...bag, ph: 7.3 }),
      unionisedAmmoniaShare({ ...bag, ph: 8.2 }),
    ];
    expect(low).toBeCloseTo(0.011, 3);
    expect(high).toBeCloseTo(0.082, 2);
  });

  it('lies between nothing and all, and rises with pH and temperature', () => {
    const ph = fc.double({ min: 5, max: 9.8, noNaN: true });
    const scale = fc.constantFrom('total', 'NBS' as const);
    fc.assert(
      fc.property(
        ph,
        scale,
        fc.double({ min: 0, max: 40, noNaN: true }),
        fc.double({ min: 1, max: 39, noNaN: true }),
        (p, s, salinity, t) => {
          const water = { ph: p, phScale: s as 'total' | 'NBS', salinity, temperatureDegC: t };
          const share = unionisedAmmoniaShare(water);
          expect(share).toBeGreaterThan(0);
          expect(share).toBeLessThan(1);
          expect(unionisedAmmoniaShare({ ...water, ph: p + 0.1 })).toBeGreaterThan(share);
          expect(unionisedAmmoniaShare({ ...water, temperatureDegC: t + 1 })).toBeGreaterThan(share);
        },
      ),
    );
  });

  it('is refused outside the fits', () => {
    const water = { ph: 8, phScale: 'total', salinity: 35, temperatureDegC: 25 } as const;
    expect(() => unionisedAmmoniaShare({ ...water, ph: 11 })).toThrow('pH 11 is outside 5 to 10');
    expect(() => unionisedAmmoniaShare({ ...water, salinity: 45 })).toThrow('practical salinity 45');
    expect(() => unionisedAmmoniaShare({ ...water, ph: Number.NaN })).toThrow(RangeError);
  });
});
