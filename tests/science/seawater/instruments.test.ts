import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  densityKgPerM3,
  hydrometerSalinity,
  pureWaterDensityKgPerM3,
  salinityFromSpecificGravity,
} from '../../../src/science/seawater.ts';

const degC = (degF: number) => (degF - 32) / 1.8;
const sixty = { sampleDegC: degC(60), waterDegC: degC(60) };
const seventyFive = { sampleDegC: degC(75), waterDegC: degC(75) };

describe('a hydrometer in a sample of another temperature', () => {
  it('gives quite another salinity for another scale (1.021 shown at 81.5 degF)', () => {
    expect(hydrometerSalinity(1.021, seventyFive, degC(81.5))).toBeCloseTo(29.2, 1);
    expect(hydrometerSalinity(1.021, sixty, degC(81.5))).toBeCloseTo(31.2, 1);
  });

  it('needs no correction at the temperature of its scale', () => {
    const base = { sampleDegC: 25, waterDegC: 25 };
    expect(hydrometerSalinity(1.0264, base, 25)).toBeCloseTo(salinityFromSpecificGravity(1.0264, base), 9);
  });

  it('gives the salinity that floats it there', () => {
    const salinities = fc.double({ min: 20, max: 40, noNaN: true });
    fc.assert(
      fc.property(salinities, fc.double({ min: 15, max: 32, noNaN: true }), (salinity, sample) => {
        const grown = 1 + 25e-6 * (sample - sixty.sampleDegC);
        const shown = (densityKgPerM3(salinity, sample) * grown) / pureWaterDensityKgPerM3(sixty.waterDegC);
        expect(hydrometerSalinity(shown, sixty, sample)).toBeCloseTo(salinity, 8);
      }),
    );
  });

  it('is corrected upwards when the sample is warm', () => {
    expect(hydrometerSalinity(1.025, seventyFive, 28)).toBeGreaterThan(
      hydrometerSalinity(1.025, seventyFive, 24),
    );
  });

  it('is refused where no salinity fits', () => {
    expect(() => hydrometerSalinity(1.04, sixty, 25)).toThrow(/density of the sample/);
    expect(() => hydrometerSalinity(Number.NaN, sixty, 25)).toThrow(RangeError);
  });
});
