import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  densityKgPerM3,
  hydrometerSalinity,
  pureWaterDensityKgPerM3,
  refractiveIndex,
  refractometerSalinity,
  salinityFromSpecificGravity,
} from '../../../src/science/seawater.ts';
import { published } from '../../support/published.ts';

const pureIndex = published(
  'refractive index of pure water',
  'printed for the sodium line at 10, 20, 30 degC',
  { absolute: 1e-4 },
);

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

describe('a refractometer', () => {
  it('rests on an index that is that of pure water without salt', () => {
    pureIndex.check(refractiveIndex(0, 10), 1.3337);
    pureIndex.check(refractiveIndex(0, 20), 1.33299);
    pureIndex.check(refractiveIndex(0, 30), 1.3319);
  });

  it('needs no correction at the temperature of its scale', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 41, noNaN: true }), (salinity) => {
        expect(refractometerSalinity(salinity, 20, 20).salinity).toBeCloseTo(salinity, 7);
      }),
    );
  });

  it('zeroed warm reads a little low; zeroed cold and read warm, a lot', () => {
    const zeroedWarm = refractometerSalinity(34, 20, 27).salinity;
    const zeroedCold = refractometerSalinity(30, 20, 27, 20).salinity;
    expect(zeroedWarm).toBeGreaterThan(34.1);
    expect(zeroedWarm).toBeLessThan(34.6);
    expect(zeroedCold).toBeGreaterThan(33);
  });

  it('says when the index is stretched beyond its fit', () => {
    expect(refractometerSalinity(33, 20, 24).extrapolated).toBe(false);
    expect(refractometerSalinity(36, 20, 24).extrapolated).toBe(true);
    expect(() => refractometerSalinity(41.9, 20, 35, 20)).toThrow(/refractive index of the sample/);
    expect(() => refractometerSalinity(Number.NaN, 20, 25)).toThrow(RangeError);
  });
});
