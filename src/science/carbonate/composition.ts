import { ATOMIC_WEIGHT_G_PER_MOL } from '../atoms.ts';
import { notNegative } from '../numeric/range.ts';
import { densityKgPerM3 } from '../seawater/density.ts';

/** Which measurement of boron in the sea is used; the second is 4 % higher. */
export type BoronSource = 'Uppstrom 1974' | 'Lee 2010';

const BORON_UMOL_PER_KG_AT_35: Record<BoronSource, number> = { 'Uppstrom 1974': 415.7, 'Lee 2010': 432.6 };

/** Total boron of seawater, umol/kg, in proportion to practical salinity. Sources: Uppstrom 1974; Lee et al. 2010. */
export function boronUmolPerKg(salinity: number, source: BoronSource = 'Uppstrom 1974'): number {
  return (BORON_UMOL_PER_KG_AT_35[source] * salinity) / 35;
}

/** Calcium of seawater, umol/kg, in proportion to practical salinity. Source: Riley & Tongudai 1967. */
export function calciumUmolPerKg(salinity: number): number {
  return ((0.02128 / 40.087) * 1e6 * salinity) / 1.80655;
}

/** Sulphate and fluoride of seawater, mol/kg. Sources: Morris & Riley 1966; Riley 1965. */
export function sulphateMolPerKg(salinity: number): number {
  return ((0.14 / 96.062) * salinity) / 1.80655;
}

/** See {@link sulphateMolPerKg}. */
export function fluorideMolPerKg(salinity: number): number {
  return ((0.000067 / 18.998) * salinity) / 1.80655;
}

/**
 * umol/kg from mmol/L (alkalinity: meq/L), as it is at `temperatureDegC` (0 to 42 in salinity, -2 to 40 degC).
 * Error: that of EOS-80, 4e-6.
 */
export function umolPerKg(mmolPerL: number, salinity: number, temperatureDegC: number): number {
  notNegative(mmolPerL, 'concentration', 'mmol/L');
  return (mmolPerL * 1e6) / densityKgPerM3(salinity, temperatureDegC);
}

/** Calcium in umol/kg from mg/L. */
export function calciumFromMgPerL(mgPerL: number, salinity: number, temperatureDegC: number): number {
  return umolPerKg(mgPerL / ATOMIC_WEIGHT_G_PER_MOL.Ca, salinity, temperatureDegC);
}
