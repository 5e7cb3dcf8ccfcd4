import { describe, expect, test } from 'vitest';
import { fullLightHours, settingRatio } from '../../src/farm/light/lamp-settings.rules.ts';
import { lightAt, type SlotLightHistory } from '../../src/farm/light/slot-light.rules.ts';

describe('the light of a day', () => {
  test.each([
    [10, 0],
    [10, 2],
    [12, 1.5],
    [8, 4],
  ])(
    '%d h with ramps of %d h: the hours of full light are the area under the whole schedule',
    (litHours, rampHours) => {
      const corners = [
        [0, rampHours === 0 ? 1 : 0],
        [rampHours, 1],
        [litHours - rampHours, 1],
        [litHours, rampHours === 0 ? 1 : 0],
      ] as const;
      const whole = corners.slice(1).reduce((area, [hour, light], i) => {
        const [before, lightBefore] = corners[i] ?? [0, 0];
        return area + ((hour - before) * (light + lightBefore)) / 2;
      }, 0);
      expect(fullLightHours({ litHours, rampHours })).toBeCloseTo(whole, 10);
    },
  );

  test('lamps that are off give no light, and what is not known scales nothing', () => {
    expect(settingRatio(60, 0)).toBe(0);
    expect(settingRatio(null, 80)).toBe(1);
    expect(settingRatio(60, null)).toBe(1);
    const at = new Date('2026-03-01');
    const history: SlotLightHistory = {
      slotId: 's',
      rackId: 'r',
      surveys: [{ at: new Date('2026-01-01'), percent: 60, par: 100, error: 5 }],
      settings: [{ at: new Date('2026-02-01'), percent: 0, litHours: 10, rampHours: 1 }],
      hours: { litHours: 10, rampHours: 1 },
    };
    expect(lightAt(history, at)).toEqual({
      par: 0,
      dli: 0,
      error: 0,
      estimated: true,
      hoursKnown: true,
      measured: false,
    });
  });
});
