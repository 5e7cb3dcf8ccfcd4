import { inRange } from '../numeric/range.ts';

/**
 * Part of the light (0 to 1) left after `depthM` metres of water: exp(-K z).
 *
 * @param attenuationPerM diffuse attenuation coefficient K of the water, 0 to 10 per metre
 * @param depthM 0 to 50 m
 * Error: exact for one colour or a narrow band; broad-band K falls with depth, so use it within the depths it was
 * measured in. In a tank the spread of the lamp's beam adds to K.
 * Source: Beer-Lambert law; Kirk, Light and Photosynthesis in Aquatic Ecosystems.
 */
export function lightLeftAtDepth(attenuationPerM: number, depthM: number): number {
  inRange(attenuationPerM, 0, 10, 'attenuation', '1/m');
  inRange(depthM, 0, 50, 'depth', 'm');
  return Math.exp(-attenuationPerM * depthM);
}
