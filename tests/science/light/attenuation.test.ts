import { describe, expect, it } from 'vitest';
import { lightLeftAtDepth } from '../../../src/science/light.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const beerLambert = published('light at depth', 'Beer-Lambert law, table of exp(-K z)', { absolute: 5.1e-9 });
const depths = published('half and 1 % depth', 'Beer-Lambert law, table', { absolute: 1e-6 });
const jerlov = published(
  'light at depth, visible band by water type',
  'Paulson & Simpson 1977 coefficients',
  2e-6,
);

describe('light left at depth', () => {
  it.each(referenceTable('light_beer_lambert'))('K $Kd_per_m at $depth_m m leaves $E_over_E0', (row) => {
    const k = num(row, 'Kd_per_m');
    beerLambert.check(lightLeftAtDepth(k, num(row, 'depth_m')), num(row, 'E_over_E0'));
    if (num(row, 'half_depth_m') <= 50) depths.check(lightLeftAtDepth(k, num(row, 'half_depth_m')), 0.5);
  });

  it('agrees with the water types of ocean models', () => {
    for (const row of referenceTable('light_jerlov_two_band')) {
      const left = lightLeftAtDepth(1 / num(row, 'zeta2_m'), num(row, 'depth_m'));
      jerlov.check(left, num(row, 'visible_band_fraction'));
    }
  });

  it('is refused where the water or the depth cannot be', () => {
    expect(() => lightLeftAtDepth(Number.NaN, 1)).toThrow(RangeError);
    expect(() => lightLeftAtDepth(11, 1)).toThrow('attenuation 11 1/m is outside 0 to 10 1/m');
    expect(() => lightLeftAtDepth(1, -1)).toThrow(RangeError);
  });
});
