import { describe, expect, it } from 'vitest';
import { activityCoefficient } from '../../../src/science/carbonate/ph-scale.ts';
import {
  carbonateFromPh,
  carbonateOfReading,
  carbonateUncertainty,
  nbsMinusTotal,
  totalPhFromNbs,
} from '../../../src/science/carbonate.ts';
import { published } from '../../support/published.ts';

const perLitre = published(
  'alkalinity per litre and per kilogram',
  'density 1023.343 kg/m3, UNESCO 44, p.19 (S 35, 25 degC)',
  1e-5,
);
const activity = published(
  'proton activity coefficient',
  'Peng et al. 1987, Tellus 39B (rounded 1 % lower)',
  0.015,
);

const reading = {
  alkalinityMeqL: 2.9,
  phTotal: 8.05,
  salinity: 35,
  temperatureDegC: 25,
  calciumMgL: 430,
  phosphateMgL: 0.05,
};
const doubts = { alkalinityMeqL: 0.1, phTotal: 0.05, calciumMgL: 15, temperatureDegC: 0.3, salinity: 0.5 };

describe('a reading in meq/L and mg/L', () => {
  it('is the same water per kilogram', () => {
    perLitre.check(carbonateOfReading(reading).alkalinityUmolKg, (2.9 * 1e6) / 1023.343);
    const perKg = carbonateFromPh(
      {
        salinity: 35,
        temperatureDegC: 25,
        alkalinityUmolKg: (2.9 * 1e6) / 1023.343,
        calciumUmolKg: ((430 / 40.078) * 1e6) / 1023.343,
        phosphateUmolKg: ((0.05 / 94.97) * 1e6) / 1023.343,
      },
      8.05,
    );
    perLitre.check(carbonateOfReading(reading).omegaAragonite, perKg.omegaAragonite);
  });
});

describe('the uncertainty of a saturation', () => {
  it('is mostly the pH of a hobby probe', () => {
    const all = carbonateUncertainty(reading, doubts);
    const onlyPh = carbonateUncertainty(reading, { phTotal: 0.05 });
    expect(onlyPh.fromMeasurement / all.fromMeasurement).toBeGreaterThan(0.85);
    expect(all.standardUncertainty / all.value).toBeGreaterThan(0.08);
    expect(all.standardUncertainty).toBeCloseTo(Math.hypot(all.fromMeasurement, all.fromConstants), 12);
  });

  it('from the constants alone is the published 5 to 6 % of aragonite saturation', () => {
    // Solubility 2 % in pK is 4.6 %, the second constant 1.5 % in pK 3.4 %: 5.7 % together, less what they share.
    const { value, fromConstants } = carbonateUncertainty(reading, {});
    expect(fromConstants / value).toBeGreaterThan(0.045);
    expect(fromConstants / value).toBeLessThan(0.06);
  });

  it('agrees with a thousand draws', () => {
    let seed = 7;
    const uniform = () => {
      seed = (seed * 16807) % 2147483647;
      return seed / 2147483647;
    };
    const normal = () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
    const draws = Array.from({ length: 4000 }, () => {
      const ph = reading.phTotal + 0.02 * normal();
      return carbonateOfReading({ ...reading, phTotal: ph, alkalinityMeqL: 2.9 + 0.05 * normal() })
        .omegaAragonite;
    });
    const mean = draws.reduce((sum, draw) => sum + draw, 0) / draws.length;
    const sd = Math.sqrt(draws.reduce((sum, draw) => sum + (draw - mean) ** 2, 0) / (draws.length - 1));
    const { fromMeasurement } = carbonateUncertainty(reading, { phTotal: 0.02, alkalinityMeqL: 0.05 });
    expect(Math.abs(sd / fromMeasurement - 1)).toBeLessThan(0.05);
  });

  it('can be asked for any result, and for a reading without calcium or phosphate', () => {
    const { calciumMgL: _calcium, phosphateMgL: _phosphate, ...bare } = reading;
    expect(carbonateUncertainty(bare, { phTotal: 0.05 }, 'pco2Uatm').standardUncertainty).toBeGreaterThan(50);
    expect(() => carbonateUncertainty(reading, { phTotal: -1 })).toThrow('uncertainty of phTotal');
  });
});

describe('a pH on the scale of ordinary buffers', () => {
  it('reads 0.13 to 0.14 higher than the total scale in seawater, and stays uncertain by 0.05 (common practice)', () => {
    expect(nbsMinusTotal(35, 25)).toBeGreaterThan(0.125);
    expect(nbsMinusTotal(35, 25)).toBeLessThan(0.145);
    const total = totalPhFromNbs(8.2, 35, 25);
    expect(total.phTotal).toBeCloseTo(8.2 - nbsMinusTotal(35, 25), 12);
    expect(total.standardUncertainty).toBe(0.05);
  });

  it('uses an activity coefficient that an independent rounding confirms within 1.5 %', () => {
    for (const [s, degC] of [
      [30, 20],
      [35, 25],
      [38, 30],
    ] as const) {
      const t = degC + 273.15;
      activity.check(activityCoefficient(s, degC), 1.29 - 0.00204 * t + (0.00046 - 0.00000148 * t) * s ** 2);
    }
  });

  it('is refused outside the salinity of the fit', () => {
    expect(() => totalPhFromNbs(8.2, 10, 25)).toThrow('practical salinity 10 is outside 20 to 40');
    expect(() => totalPhFromNbs(Number.NaN, 35, 25)).toThrow(RangeError);
  });
});
