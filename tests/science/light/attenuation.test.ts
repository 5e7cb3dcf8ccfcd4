import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { attenuationPerM, depthOfFractionM, lightLeftAtDepth } from '../../../src/science/light.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const beerLambert = published('light at depth', 'Beer-Lambert law, table of exp(-K z)', { absolute: 5.1e-9 });
const depths = published('half and 1 % depth', 'Beer-Lambert law, table', { absolute: 5.1e-7 });
const jerlov = published(
  'light at depth, visible band by water type',
  'Paulson & Simpson 1977 coefficients',
  2e-6,
);

describe('light left at depth', () => {
  it.each(referenceTable('light_beer_lambert'))('K $Kd_per_m at $depth_m m leaves $E_over_E0', (row) => {
    const k = num(row, 'Kd_per_m');
    beerLambert.check(lightLeftAtDepth(k, num(row, 'depth_m')), num(row, 'E_over_E0'));
    depths.check(depthOfFractionM(k, 0.5), num(row, 'half_depth_m'));
    depths.check(depthOfFractionM(k, 0.01), num(row, 'one_percent_depth_m'));
  });

  it('agrees with the water types of ocean models', () => {
    for (const row of referenceTable('light_jerlov_two_band')) {
      const left = lightLeftAtDepth(1 / num(row, 'zeta2_m'), num(row, 'depth_m'));
      jerlov.check(left, num(row, 'visible_band_fraction'));
    }
  });

  it('tells the attenuation from two depths, whatever the light', () => {
    const k = fc.double({ min: 0.001, max: 5, noNaN: true });
    fc.assert(
      fc.property(k, fc.double({ min: 0.05, max: 1, noNaN: true }), (attenuation, depthM) => {
        const upper = { parUmolM2S: 400, depthM: 0.1 };
        const lower = { parUmolM2S: 400 * lightLeftAtDepth(attenuation, depthM), depthM: 0.1 + depthM };
        expect(attenuationPerM(upper, lower)).toBeCloseTo(attenuation, 9);
      }),
    );
  });

  it('is refused when the deeper place is brighter, or the depths are swapped', () => {
    const bright = { parUmolM2S: 300, depthM: 0.5 };
    const dim = { parUmolM2S: 100, depthM: 0.1 };
    expect(() => attenuationPerM(dim, bright)).toThrow(/attenuation -.* is outside 0 to 10/);
    expect(() => attenuationPerM(bright, dim)).toThrow(/distance between the two depths .* must be above 0/);
    expect(() => lightLeftAtDepth(Number.NaN, 1)).toThrow(RangeError);
  });
});
