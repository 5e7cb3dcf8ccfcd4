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
export const oxygenTransferMPerH = { least: 0.01, most: 0.05 } as const;

/**
 * Oxygen that stock and rock take, mg/L/h. 0.5 is 2 m2 of dense tissue per m3 (Moorea series 2020: 0.06 to 0.30 g O2
 * per m2 of tissue an hour in the dark); 2 is crowded water, or water after a feeding or a death. Own choice of range.
 */
export const oxygenUseMgLPerH = { least: 0.5, most: 2 } as const;

/** Oxygen that living coral tissue takes in the dark, g per m2 and h. Source: Moorea physiology series 2020, means of three genera. */
const tissueUseGPerM2H = { least: 0.06, most: 0.3 } as const;

/** Tissue over the area of a disc of the piece's size: 1 for a crust, 5 for a bush. Own choice. */
const tissueOverDisc = { least: 1, most: 5 } as const;

/** Rock, sand and filter may take as much again as the stock. Own choice, until it is measured here. */
const rockTakes = 2;

/** Oxygen taken, mg/L/h, as an interval. */
export interface OxygenUse {
  readonly least: number;
  readonly most: number;
}

/**
 * What the corals on the books can take at least and at most, mg/L/h.
 *
 * @param discM2 area of discs of the pieces' sizes, m2, 0 or more
 * @param knownShare part of the pieces whose size is known, above 0 to 1: the others are taken to be like them
 * Error: that of the intervals; fish are not counted.
 */
export function stockOxygenUse(discM2: number, volumeL: number, knownShare: number): OxygenUse {
  notNegative(discM2, 'area', 'm2');
  inRange(knownShare, 0, 1, 'part of known size');
  const perLitre = (gPerM2H: number, over: number) =>
    (1000 * gPerM2H * over * discM2) /
    (positive(knownShare, 'part of known size') * positive(volumeL, 'volume', 'L'));
  return {
    least: perLitre(tissueUseGPerM2H.least, tissueOverDisc.least),
    most: rockTakes * perLitre(tissueUseGPerM2H.most, tissueOverDisc.most),
  };
}

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
export function oxygenHours(
  water: StillWater,
  floorMgL: number,
  startMgL?: number,
  use: OxygenUse = oxygenUseMgLPerH,
): OxygenHours {
  const start = startMgL ?? oxygenSaturationMgPerL(water.salinity, water.temperatureDegC);
  const hours = (k: number, r: number) => stillWaterHours(water, start, floorMgL, k, r);
  return {
    soonest: hours(oxygenTransferMPerH.least, use.most),
    latest: hours(oxygenTransferMPerH.most, use.least),
  };
}
