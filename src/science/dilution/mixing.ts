import { finite, inRange, notNegative, positive } from '../numeric/range.ts';

/** Temperature, salinity or alkalinity after part `fraction` (0 to 1) of the water was replaced. Conservation of mass. */
export function afterMixing(own: number, other: number, fraction: number): number {
  inRange(fraction, 0, 1, 'part replaced');
  return finite(own, 'level') * (1 - fraction) + finite(other, 'level of the other water') * fraction;
}

/** The largest part that may be replaced at once so that the level moves by no more than `step`; 1 at most. */
export function largestExchange(own: number, other: number, step: number): number {
  const apart = Math.abs(finite(own, 'level') - finite(other, 'level of the other water'));
  return apart === 0 ? 1 : Math.min(1, positive(step, 'step') / apart);
}

/** Salinity when fresh water was added and nothing ran over: S V/(V + x). */
export function salinityAfterFreshWater(salinity: number, volumeL: number, freshL: number): number {
  inRange(salinity, 0, 42, 'practical salinity');
  return (salinity * positive(volumeL, 'volume', 'L')) / (volumeL + notNegative(freshL, 'fresh water', 'L'));
}

/** Salinity when fresh water ran in and as much ran over, mixed all the while: S exp(-x/V). */
export function salinityAfterOverflow(salinity: number, volumeL: number, freshL: number): number {
  inRange(salinity, 0, 42, 'practical salinity');
  return salinity * Math.exp(-notNegative(freshL, 'fresh water', 'L') / positive(volumeL, 'volume', 'L'));
}

/** Salinity when water evaporated and was not replaced: S V/(V - lost). */
export function salinityAfterEvaporation(salinity: number, volumeL: number, lostL: number): number {
  inRange(salinity, 0, 42, 'practical salinity');
  inRange(lostL, 0, 0.5 * positive(volumeL, 'volume', 'L'), 'evaporated water', 'L');
  return (salinity * volumeL) / (volumeL - lostL);
}
