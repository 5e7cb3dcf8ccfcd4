import { describe, expect, test } from 'vitest';
import { lightSentences } from '../../src/racks/rack-page/light.ts';

describe('sentences on light', () => {
  const light = {
    surveyId: 's',
    measuredAt: new Date('2026-11-03T10:00:00Z'),
    readings: 14,
    surveyPercent: 80,
    widestError: 3,
    lampPercent: 80,
    lampSetAt: new Date('2026-01-01T00:00:00Z'),
    moved: false,
    movedAt: null,
    deeperMm: 0,
    otherLamp: false,
  };
  test('tell when, at how many slots, to within what, and whether the lamps were turned since', () => {
    expect(lightSentences(light, 'UTC')).toEqual([
      'Light measured on 3 Nov 2026 at 14 slots, lamps at 80 %; between them estimated to within 6.',
    ]);
    const turned = { ...light, lampPercent: 95, lampSetAt: new Date('2026-11-18T09:00:00Z') };
    expect(lightSentences(turned, 'UTC')[1]).toBe(
      'Lamps were turned to 95 % on 18 Nov 2026: the numbers below are scaled; measure again.',
    );
    expect(lightSentences({ ...turned, lampPercent: 30 }, 'UTC')[2]).toContain('a rough guess');
    expect(lightSentences(null, 'UTC')[0]).toContain('No PAR readings yet');
  });
});
