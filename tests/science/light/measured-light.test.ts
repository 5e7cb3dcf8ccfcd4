import { describe, expect, it } from 'vitest';
import { lightAtSetting, settingForLight, underwaterParUmolM2S } from '../../../src/science/light.ts';
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

describe('light at another lamp setting', () => {
  it('is proportional, and says when the survey is stretched (common practice, no source)', () => {
    expect(lightAtSetting(120, 60, 75)).toEqual({ parUmolM2S: 150, extrapolated: false });
    expect(lightAtSetting(120, 60, 20)).toEqual({ parUmolM2S: 40, extrapolated: true });
    expect(lightAtSetting(120, 40, 90)).toEqual({ parUmolM2S: 270, extrapolated: true });
  });

  it('tells the setting for a wanted light, and when there is none', () => {
    expect(settingForLight(120, 60, 150)).toBe(75);
    expect(() => settingForLight(120, 60, 300)).toThrow('lamp setting 150 % is outside 0 to 100 %');
    expect(() => lightAtSetting(120, 0, 50)).toThrow(RangeError);
  });
});
