import { describe, expect, it } from 'vitest';
import { dailyLightMolM2 } from '../../../src/science/light.ts';
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

describe('the daily light integral', () => {
  it.each(sound)('of $PPFD_umol_m2_s umol/m2/s for $photoperiod_h h is $DLI_published_mol_m2_d', (row) => {
    const result = dailyLightMolM2(num(row, 'PPFD_umol_m2_s'), num(row, 'photoperiod_h'));
    (isFaust(row) ? rounded : printed).check(result, num(row, 'DLI_published_mol_m2_d'));
  });

  it.each(shaped)('of $PPFD_umol_m2_s umol/m2/s, $photoperiod_h, is $DLI_computed_mol_m2_d', (row) => {
    const numbers = [...text(row, 'photoperiod_h').matchAll(/\d+/g)].map(Number);
    const [up = 0, full = 0, down = 0] = numbers;
    // The mean of half a sine is 2 / pi of its peak, that of a straight ramp half of it.
    const equivalent = numbers.length === 1 ? (2 / Math.PI) * up : up / 2 + full + down / 2;
    shapes.check(dailyLightMolM2(num(row, 'PPFD_umol_m2_s'), equivalent), num(row, 'DLI_computed_mol_m2_d'));
  });

  it('is refused where the light or the hours cannot be', () => {
    expect(() => dailyLightMolM2(Number.NaN, 10)).toThrow(RangeError);
    expect(() => dailyLightMolM2(100, 26)).toThrow('photoperiod 26 h is outside 0 to 24 h');
  });
});
