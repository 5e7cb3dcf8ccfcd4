import { molarMassGPerMol } from '../atoms.ts';
import { notNegative, positive } from '../numeric/range.ts';
import { densityKgPerM3 } from '../seawater/density.ts';
import { dryGrams } from './dose.ts';
import type { SubstanceCode } from './substances.ts';

/** Practical salinity per g/kg of Reference Salinity: Millero et al. 2008, Deep-Sea Research I 55, 50. */
const PSU_PER_G_KG = 35 / 35.16504;

/**
 * What a dose does to practical salinity at once: the dissolved salt, less what the water it came in dilutes.
 *
 * @param grams of the substance as weighed, 0 or more
 * @param volumeL of the system
 * @param waterL water that the dose is dissolved in and that stays in the system; 0 when it replaces evaporation
 * @param salinity practical salinity of the system, 0 to 42; temperature -2 to 40 degC
 * @returns the change of salinity, positive or (a thin solution) negative
 * Error: about 5 % of the change, since practical salinity is defined for the salts of the sea in their proportion.
 * Source: conservation of mass.
 */
export function salinityChangeOfDose(
  code: SubstanceCode,
  grams: number,
  volumeL: number,
  salinity: number,
  waterL = 0,
  temperatureDegC = 25,
): number {
  const waterG = notNegative(waterL, 'water of the dose', 'L') * 1000;
  const seaG = densityKgPerM3(salinity, temperatureDegC) * positive(volumeL, 'volume', 'L');
  const saltG = (salinity * seaG) / PSU_PER_G_KG / 1000;
  const addedG = dryGrams(code, grams);
  const massG = seaG + grams + waterG;
  return ((saltG + addedG) / massG) * 1000 * PSU_PER_G_KG - salinity;
}

/**
 * What stays behind for good when alkalinity from sodium (bi)carbonate and calcium from calcium chloride are used up
 * together by calcification: one mole of sodium chloride for each equivalent.
 *
 * @param alkalinityUsedMeqL alkalinity dosed and used since the last water change, 0 or more meq/L
 * @returns the rise of practical salinity; error 5 % as above. 1 dKH a day for a month is about 0.6.
 */
export function lastingSalinityRise(alkalinityUsedMeqL: number, salinity = 35, temperatureDegC = 25): number {
  const gramsPerL =
    (notNegative(alkalinityUsedMeqL, 'alkalinity used', 'meq/L') * molarMassGPerMol({ Na: 1, Cl: 1 })) / 1000;
  return (gramsPerL / (densityKgPerM3(salinity, temperatureDegC) / 1000)) * PSU_PER_G_KG;
}
