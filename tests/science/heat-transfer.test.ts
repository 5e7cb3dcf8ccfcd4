import { describe, expect, it } from 'vitest';
import {
  driftTimeConstantH,
  evaporationWPerM2,
  heatCapacityJPerK,
  heatingPowerKw,
  heatTransferWPerM2K,
  hoursToTemperature,
  temperatureAfter,
  vesselHours,
} from '../../src/science/heat-transfer.ts';

describe('heat of seawater', () => {
  it('is 4.085 MJ for a degree of a cubic metre, 1.135 kW for a degree an hour', () => {
    expect(heatCapacityJPerK(1000) / 1e6).toBeCloseTo(4.085, 2);
    expect(heatingPowerKw(1000, 1)).toBeCloseTo(1.135, 2);
    expect(heatingPowerKw(500, 0.5)).toBeCloseTo(1.135 / 4, 3);
  });

  it('passes glass, acrylic and foam as ISO 6946 has it', () => {
    expect(heatTransferWPerM2K.glass).toBeCloseTo(7.1, 1);
    expect(heatTransferWPerM2K.acrylic).toBeCloseTo(5.5, 1);
    expect(heatTransferWPerM2K.foam).toBeCloseTo(1.2, 1);
  });
});

describe('Newton cooling', () => {
  // Insulating boxes for live fish: 40 x 30 cm with 8 L has a time constant of 21.8 h; 25 degC into 5 degC.
  it.each([
    [6, 20.2],
    [12, 16.5],
    [18, 13.8],
    [24, 11.7],
    [48, 7.2],
  ])('of a foam box after %i h', (hours, degC) => {
    expect(temperatureAfter(25, 5, 21.8, hours)).toBeCloseTo(degC, 0);
  });

  it('tells the hours to a temperature, never where the room does not go there, none where it is past', () => {
    const tau = 22.7;
    const hours = hoursToTemperature(25, 20, 15, tau);
    expect(temperatureAfter(25, 15, tau, hours)).toBeCloseTo(20, 9);
    expect(hoursToTemperature(25, 14, 15, tau)).toBe(Number.POSITIVE_INFINITY);
    expect(hoursToTemperature(25, 26, 15, tau)).toBe(0);
    expect(hoursToTemperature(25, 28, 32, tau)).toBeCloseTo(tau * Math.log(7 / 4), 9);
  });

  it('is known from two readings, unless the water moved away from the room', () => {
    // The foam box again: 25 degC to 16.5 degC in twelve hours at 5 degC.
    expect(driftTimeConstantH(25, 16.5, 5, 12)).toBeCloseTo(21.8, 0);
    expect(driftTimeConstantH(25, 25.4, 5, 1)).toBeNull();
    expect(driftTimeConstantH(25, 24, 30, 1)).toBeNull();
  });
});

describe('a tank in a cold room', () => {
  it.each([
    // room, humidity, W/m2: constants of Shah 2014 worked out apart
    [22, 0.6, 86],
    [20, 0.5, 122],
    [15, 0.5, 164],
    [5, 0.7, 215],
  ])('loses heat by evaporation at 25 degC in a room of %f degC', (room, humidity, expected) => {
    expect(Math.abs(evaporationWPerM2(25, room, humidity) / expected - 1)).toBeLessThan(0.06);
  });

  const tank = { lengthM: 2, widthM: 1, waterM: 0.5 };
  it.each([
    // room degC, covered, hours to 20 and to 18 degC
    [15, false, 11, 18],
    [5, false, 6, 8],
    [15, true, 26, 45],
    [5, true, 11, 16],
  ])('of 1,000 L in a room of %f degC, lid %s', (degC, covered, toTwenty, toEighteen) => {
    const room = { degC, humidity: 0.5, covered };
    for (const [to, hours] of [
      [20, toTwenty],
      [18, toEighteen],
    ] as const) {
      const apart = Math.abs(vesselHours(tank, 25, to, room) - hours);
      expect(apart).toBeLessThan(Math.max(1, 0.12 * hours));
    }
  });
});
