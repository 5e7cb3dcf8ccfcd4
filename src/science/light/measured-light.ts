import { inRange } from '../numeric/range.ts';

/**
 * Light under water, umol/(m2 s), from what a sensor calibrated in air shows there. Such a sensor reads low under
 * water since more light leaves its diffuser again.
 *
 * @param shownUmolM2S what the meter shows, uncorrected, 0 to 5000
 * @param immersionFactor of that sensor model, 1 (the meter corrects by itself) to 1.6; sensors of one model
 * spread by about 2 % (2 standard deviations)
 * Source: Zibordi, Hooker, Mueller & Lazin 2004 (J. Atmos. Oceanic Technol. 21); the factor itself is the maker's.
 */
export function underwaterParUmolM2S(shownUmolM2S: number, immersionFactor: number): number {
  inRange(shownUmolM2S, 0, 5000, 'light shown', 'umol/m2/s');
  return shownUmolM2S * inRange(immersionFactor, 1, 1.6, 'immersion factor');
}
