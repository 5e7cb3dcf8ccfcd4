import { inRange, notNegative, positive, wholeNumber } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';
import { type CarbonateSystem, type CarbonateWater, carbonateFromPh } from './system.ts';

/** Carbon dioxide that a person at rest breathes out, m3/h. Source: Persily & de Jonge 2017, Indoor Air (0.0052 L/s). */
const BREATHED_M3_PER_H = 0.0187;

/** A closed room with people in it. */
export interface Room {
  readonly volumeM3: number;
  /** Air changes in an hour, above 0. */
  readonly airChangesPerH: number;
  readonly people: number;
  /** Carbon dioxide outdoors, ppm. */
  readonly outdoorsPpm?: number;
}

/**
 * Carbon dioxide of a room after `hours`, ppm: Css + (C0 - Css) exp(-a t), Css = outdoors + n G/(a V).
 *
 * Error: people who work breathe out two to three times as much; burners far more.
 */
export function roomCarbonDioxidePpm(room: Room, startPpm: number, hours: number): number {
  const { volumeM3, airChangesPerH, people, outdoorsPpm = 420 } = room;
  wholeNumber(people, 0, 1000, 'people');
  positive(airChangesPerH, 'air changes', '/h');
  const source = (people * BREATHED_M3_PER_H * 1e6) / (airChangesPerH * positive(volumeM3, 'room', 'm3'));
  const end = outdoorsPpm + source;
  return (
    end +
    (notNegative(startPpm, 'carbon dioxide', 'ppm') - end) *
      Math.exp(-airChangesPerH * notNegative(hours, 'time', 'h'))
  );
}

/**
 * The carbonate system of water at rest with air of this carbon dioxide, 100 to 40,000 uatm. pH on the total scale.
 *
 * Error: as `carbonateFromPh`; a tank takes hours (aerated) to weeks (still) to get there.
 */
export function carbonateAtAir(water: CarbonateWater, carbonDioxidePpm: number): CarbonateSystem {
  inRange(carbonDioxidePpm, 100, 40_000, 'carbon dioxide', 'ppm');
  const logPpmAt = (ph: number) => Math.log(carbonateFromPh(water, ph).pco2Uatm);
  return carbonateFromPh(water, solveMonotone(logPpmAt, Math.log(carbonDioxidePpm), 6.2, 9));
}
