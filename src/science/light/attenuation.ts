import { inRange, positive } from '../range.ts';

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

/**
 * Attenuation coefficient in 1/m from the light at two depths in metres. Negative, and refused, when the
 * deeper place is the brighter.
 */
export function attenuationPerM(
  upper: { parUmolM2S: number; depthM: number },
  lower: { parUmolM2S: number; depthM: number },
): number {
  positive(upper.parUmolM2S, 'light at the upper depth', 'umol/m2/s');
  positive(lower.parUmolM2S, 'light at the lower depth', 'umol/m2/s');
  const distance = positive(lower.depthM - upper.depthM, 'distance between the two depths', 'm');
  return inRange(Math.log(upper.parUmolM2S / lower.parUmolM2S) / distance, 0, 10, 'attenuation', '1/m');
}

/** Depth in metres at which `fraction` (above 0 to 1) of the light is left; K above 0 to 10 per metre. */
export function depthOfFractionM(attenuationPerM: number, fraction: number): number {
  inRange(attenuationPerM, 1e-6, 10, 'attenuation', '1/m');
  inRange(fraction, 1e-6, 1, 'fraction of light');
  return -Math.log(fraction) / attenuationPerM || 0;
}
