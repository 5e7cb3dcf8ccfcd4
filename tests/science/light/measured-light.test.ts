import { describe, expect, it } from 'vitest';
import { underwaterParUmolM2S } from '../../../src/science/light.ts';
import { num, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const immersion = published(
  'immersion factor',
  'quantum sensor manual (factor 1.25, raw 180 reads 225)',
  1e-12,
);

describe('light under water', () => {
  const [row] = referenceTable('light_sensor_corrections').filter(
    (candidate) =>
      text(candidate, 'item') === 'immersion factor quantum sensor' &&
      text(candidate, 'status') === 'confirmed',
  );

  it('is the shown value times the factor of the sensor', () => {
    immersion.check(underwaterParUmolM2S(180, num(row ?? {}, 'value')), 225);
  });

  it('is refused with a factor that no sensor has', () => {
    expect(() => underwaterParUmolM2S(180, 0.8)).toThrow('immersion factor 0.8 is outside 1 to 1.6');
    expect(() => underwaterParUmolM2S(Number.NaN, 1.25)).toThrow(RangeError);
  });
});
