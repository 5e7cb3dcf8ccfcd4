import { inRange, notNegative, positive } from '../numeric/range.ts';
import { oxygenSaturationMgPerL } from './saturation.ts';

/** Water without a running pump. */
export interface StillWater {
  readonly salinity: number;
  readonly temperatureDegC: number;
  /** Water volume over open surface, m. */
  readonly depthM: number;
}

/** Hours until oxygen reaches the floor; Infinity where the surface brings as much as is used. */
interface OxygenHours {
  readonly soonest: number;
  readonly latest: number;
}

/**
 * Velocity with which oxygen passes a still surface, m/h: 1 to 5 cm/h. Lakes in low wind give 1.5 to 3.1 cm/h (Crusius &
 * Wanninkhof 2003; Cole & Caraco 1998: 2.07 without wind, for oxygen in seawater 2.3); no measurement over a coral
 * tank was found, so the range is wider. Own choice.
 */
const oxygenTransferMPerH = { least: 0.01, most: 0.05 } as const;

/**
 * Oxygen that stock and rock take, mg/L/h. 0.5 is 2 m2 of dense tissue per m3 (Moorea series 2020: 0.06 to 0.30 g O2
 * per m2 of tissue an hour in the dark); 2 is crowded water, or water after a feeding or a death. Own choice of range.
 */
export const oxygenUseMgLPerH = { least: 0.5, most: 2 } as const;

/**
 * Hours until oxygen falls from `startMgL` to `floorMgL` in water that stands still; Infinity when it never does.
 * dC/dt = (k/z)(Cs - C) - r, solved; with k = 0 (a lid, a film) a straight fall.
 *
 * @param startMgL 0 to 20 mg/L, at or above the floor
 * @param transferMPerH k, 0 to 1 m/h
 * @param useMgLPerH r, above 0
 * Error: that of k and r; the water at the animal is worse off than the mean of the tank.
 */
export function stillWaterHours(
  water: StillWater,
  startMgL: number,
  floorMgL: number,
  transferMPerH: number,
  useMgLPerH: number,
): number {
  inRange(startMgL, 0, 20, 'oxygen', 'mg/L');
  notNegative(floorMgL, 'the floor', 'mg/L');
  positive(useMgLPerH, 'use of oxygen', 'mg/L/h');
  inRange(transferMPerH, 0, 1, 'transfer velocity', 'm/h');
  if (startMgL <= floorMgL) return 0;
  if (transferMPerH === 0) return (startMgL - floorMgL) / useMgLPerH;
  const rate = transferMPerH / positive(water.depthM, 'mean depth', 'm');
  const end = oxygenSaturationMgPerL(water.salinity, water.temperatureDegC) - useMgLPerH / rate;
  if (end >= floorMgL) return Number.POSITIVE_INFINITY;
  return Math.log((startMgL - end) / (floorMgL - end)) / rate;
}

/**
 * The interval of those hours over what is not known of surface and use, from saturation (or `startMgL`, where it was
 * read) to the floor.
 */
export function oxygenHours(water: StillWater, floorMgL: number, startMgL?: number): OxygenHours {
  const start = startMgL ?? oxygenSaturationMgPerL(water.salinity, water.temperatureDegC);
  const hours = (k: number, r: number) => stillWaterHours(water, start, floorMgL, k, r);
  return {
    soonest: hours(oxygenTransferMPerH.least, oxygenUseMgLPerH.most),
    latest: hours(oxygenTransferMPerH.most, oxygenUseMgLPerH.least),
  };
}
