import { describe, expect, test } from 'vitest';
import { hydrometerSalinity } from '../../src/science/seawater.ts';
import { convert, GRAVITY_BASES, parseReadingText } from '../../src/science/units.ts';

// B10 and B11, a forum thread, a society's wiki and a chemistry article. The salinities stated there were computed with EOS-80
// and the expansion of glass.

describe('a hydrometer calibrated at 75 F and a table made for 60 F', () => {
  const reading = 1.021;
  const sampleDegC = (81.5 - 32) / 1.8;

  test('differ by two units of salinity, so the base is asked for', () => {
    const at = (fahrenheit: number) => {
      const degC = (fahrenheit - 32) / 1.8;
      return hydrometerSalinity(reading, { sampleDegC: degC, waterDegC: degC }, sampleDegC);
    };
    expect(at(75)).toBeCloseTo(29.2, 1);
    expect(at(60)).toBeCloseTo(31.2, 1);
  });

  test('a warm sample reads low, so its salinity is above what the scale says', () => {
    const base = GRAVITY_BASES['SG 60F/60F'];
    if (base === undefined) throw new Error('no such base');
    expect(hydrometerSalinity(reading, base, sampleDegC)).toBeGreaterThan(
      convert('salinity', reading, 'SG 60F/60F', 'PSU'),
    );
  });
});

describe('"SG 1.0234 is right" and "SG 1.0264 is right"', () => {
  test.each([
    ['SG 20/4', 1.0248],
    ['SG 25/4', 1.0234],
    ['SG 25/25', 1.0264],
    ['SG 60F/60F', 1.0269],
  ])('35 PSU is %s %d', (unit, gravity) => {
    expect(convert('salinity', 35, 'PSU', unit)).toBeCloseTo(gravity, 4);
  });

  test('1.025 (25/25) is 33.2, and a bare SG is never taken', () => {
    expect(convert('salinity', 1.025, 'SG 25/25', 'PSU')).toBeCloseTo(33.2, 1);
    expect(parseReadingText('1.025 SG', 'salinity', 'PSU')).toMatchObject({
      ok: false,
      message: expect.stringContaining('both its temperatures'),
    });
  });
});
