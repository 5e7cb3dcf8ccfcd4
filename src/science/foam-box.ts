import { finite, inRange, positive } from './numeric/range.ts';

/**
 * Heat that a box of foam, 2.5 cm thick, lets through, as its constant I in cm/h. Measured with about 8 L of water.
 * Source: "Insulating properties of styrofoam boxes used for transporting live fish" (hours as its unit inferred).
 */
export const FOAM_CM_PER_H = 0.11;

/** Litres in one box near which that constant was measured; far from it the figure is a guess (own choice: half to double). */
export const MEASURED_LITRES = { low: 4, high: 16 } as const;

/** A box of water, its inside in cm. */
export interface WaterBox {
  readonly lengthCm: number;
  readonly widthCm: number;
  readonly litres: number;
}

/**
 * Surface of the water in a box, cm2: bottom, top and the sides as high as the water stands.
 * Ws = 2 L W + 2 Wv/W + 2 Wv/L, Wv the water in mL.
 */
export function waterSurfaceCm2({ lengthCm, widthCm, litres }: WaterBox): number {
  const [length, width] = [positive(lengthCm, 'length', 'cm'), positive(widthCm, 'width', 'cm')];
  const millilitres = positive(litres, 'water', 'L') * 1000;
  return 2 * length * width + (2 * millilitres) / width + (2 * millilitres) / length;
}

/** Hours in which a box of this foam loses all but 1/e (37 %) of its distance from the air: Wv / (I Ws). */
export function foamBoxTimeConstantH(box: WaterBox): number {
  return (box.litres * 1000) / (FOAM_CM_PER_H * waterSurfaceCm2(box));
}

/**
 * Water of a foam box after `hours` in air that stays as it is, degC: T = Ta + (T0 - Ta) exp(-t I Ws/Wv), the water taken
 * as one lump that is as warm all through.
 *
 * @param startDegC 0 to 45, `airDegC` -40 to 60, `hours` 0 to 240
 * Error: not published; the walls, the lid and the sun differ.
 * Source: as {@link FOAM_CM_PER_H}. 40 x 30 cm, 8 L, 25 into 5 degC: 20.2, 16.5, 13.8 degC after 6, 12, 18 h.
 */
export function foamBoxDegC(box: WaterBox, startDegC: number, airDegC: number, hours: number): number {
  inRange(finite(startDegC, 'start'), 0, 45, 'start', 'degC');
  inRange(finite(airDegC, 'air'), -40, 60, 'air', 'degC');
  inRange(hours, 0, 240, 'time', 'h');
  return airDegC + (startDegC - airDegC) * Math.exp(-hours / foamBoxTimeConstantH(box));
}
