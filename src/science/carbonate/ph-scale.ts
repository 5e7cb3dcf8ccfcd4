import { inRange } from '../numeric/range.ts';
import { fluorideMolPerKg, sulphateMolPerKg } from './composition.ts';

/** A pH on the total scale with its standard uncertainty. */
export interface TotalPh {
  phTotal: number;
  /** Of the change of scale alone; the probe's own comes on top. */
  standardUncertainty: number;
}

/**
 * Standard uncertainty of the change of scale: the buffers are fresh-water like, and the liquid junction of every
 * probe answers differently in seawater. Common practice puts the spread between probes at 0.05.
 */
export const SCALE_UNCERTAINTY = 0.05;

/**
 * pH on the total scale from what a probe set with ordinary (NBS, NIST) buffers shows in seawater: about 0.13 lower.
 *
 * @param phNbs 6 to 10
 * @param salinity 20 to 40
 * @param temperatureDegC 5 to 35 degC
 * Error: see {@link SCALE_UNCERTAINTY}; a probe set with seawater buffers is better.
 * Source: total activity coefficient of Takahashi et al. 1982 (GEOSECS Pacific Expedition 3, p.80); sulphate Dickson
 * 1990, fluoride Perez & Fraga 1987 as in Dickson, Sabine & Christian 2007.
 */
export function totalPhFromNbs(phNbs: number, salinity: number, temperatureDegC: number): TotalPh {
  inRange(phNbs, 6, 10, 'pH (NBS scale)');
  const phTotal = phNbs - nbsMinusTotal(salinity, temperatureDegC);
  return { phTotal, standardUncertainty: SCALE_UNCERTAINTY };
}

/** How much higher a pH reads on the NBS scale than on the total scale, at salinity 20 to 40 and 5 to 35 degC. */
export function nbsMinusTotal(salinity: number, temperatureDegC: number): number {
  return (
    -Math.log10(activityCoefficient(salinity, temperatureDegC)) -
    totalMinusSeawater(salinity, temperatureDegC)
  );
}

/** Total activity coefficient fH of protons: a = fH [H+] on the seawater scale. Takahashi et al. 1982. */
export function activityCoefficient(salinity: number, temperatureDegC: number): number {
  inRange(salinity, 20, 40, 'practical salinity');
  const t = inRange(temperatureDegC, 5, 35, 'temperature', 'degC') + 273.15;
  return 1.2948 - 0.002036 * t + (0.0004607 - 0.000001475 * t) * salinity ** 2;
}

/** How much lower a pH is on the seawater scale, which counts the protons bound to fluoride, than on the total scale. */
function totalMinusSeawater(salinity: number, temperatureDegC: number): number {
  const t = temperatureDegC + 273.15;
  const sulphate = sulphateMolPerKg(salinity) / bisulphateConstant(salinity, t);
  const onFree = hydrogenFluorideConstant(salinity, t) / (1 + sulphate);
  const fluoride = fluorideMolPerKg(salinity) / onFree;
  return Math.log10((1 + sulphate + fluoride) / (1 + sulphate));
}

/** Dissociation of HSO4-, mol/kg, free scale, t in kelvin. Dickson 1990. */
export function bisulphateConstant(salinity: number, t: number): number {
  const ionic = (19.924 * salinity) / (1000 - 1.005 * salinity);
  const root = Math.sqrt(ionic);
  const lnT = Math.log(t);
  const ln =
    -4276.1 / t +
    141.328 -
    23.093 * lnT +
    (-13856 / t + 324.57 - 47.986 * lnT) * root +
    (35474 / t - 771.54 + 114.723 * lnT) * ionic -
    (2698 / t) * ionic * root +
    (1776 / t) * ionic ** 2;
  return Math.exp(ln) * (1 - 0.001005 * salinity);
}

/** Dissociation of HF, mol/kg, total scale, t in kelvin. Perez & Fraga 1987. */
export function hydrogenFluorideConstant(salinity: number, t: number): number {
  return Math.exp(874 / t - 9.68 + 0.111 * Math.sqrt(salinity));
}
