import { describe, expect, it } from 'vitest';
import { carbonateAtAir, roomCarbonDioxidePpm } from '../../../src/science/carbonate.ts';

describe('carbon dioxide of a closed room', () => {
  const room = { volumeM3: 100, people: 2 };

  it('reaches 1,290 ppm after four hours of two people in 100 m3 with 0.3 air changes, 1,668 in the end', () => {
    expect(roomCarbonDioxidePpm({ ...room, airChangesPerH: 0.3 }, 420, 4)).toBeCloseTo(1290, -1);
    expect(roomCarbonDioxidePpm({ ...room, airChangesPerH: 0.3 }, 420, 1000)).toBeCloseTo(1667, -1);
    expect(roomCarbonDioxidePpm({ ...room, airChangesPerH: 1 }, 420, 1000)).toBeCloseTo(794, 0);
  });
});

describe('seawater at rest with air', () => {
  const dKhUmolKg = 1e6 / 2.8 / 1023.34;
  // Worked out apart with the same constants (Lueker 2000, Dickson 1990, Weiss 1974), S 35, 25 degC, total scale.
  it.each([
    [7, 420, 8.05],
    [8, 420, 8.1],
    [8, 800, 7.86],
    [8, 1000, 7.78],
    [8, 1500, 7.62],
    [10, 600, 8.05],
    [10, 2000, 7.6],
  ])('of %f dKH under %f ppm', (dKh, ppm, ph) => {
    const water = { salinity: 35, temperatureDegC: 25, alkalinityUmolKg: dKh * dKhUmolKg };
    expect(Math.abs(carbonateAtAir(water, ppm).phTotal - ph)).toBeLessThan(0.008);
  });
});
