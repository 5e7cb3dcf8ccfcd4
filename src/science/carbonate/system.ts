import { inRange } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';
import { type BoronSource, boronUmolPerKg, calciumUmolPerKg } from './composition.ts';
import { type CarbonateConstants, carbonateConstants } from './constants.ts';

/** Water whose carbonate system is sought; per kilogram of seawater. */
export interface CarbonateWater {
  /** Practical salinity, 19 to 43. */
  readonly salinity: number;
  /** 2 to 35 degC. */
  readonly temperatureDegC: number;
  /** Total alkalinity, 100 to 10,000 umol/kg. */
  readonly alkalinityUmolKg: number;
  /** Measured calcium, umol/kg; left out, that of the sea at this salinity. */
  readonly calciumUmolKg?: number;
  /** Inorganic phosphate, umol/kg; left out, none. */
  readonly phosphateUmolKg?: number;
  readonly boron?: BoronSource;
}

/** The carbonate system of one water: umol/kg, uatm, total pH scale. */
export interface CarbonateSystem {
  phTotal: number;
  alkalinityUmolKg: number;
  dicUmolKg: number;
  co2UmolKg: number;
  bicarbonateUmolKg: number;
  carbonateUmolKg: number;
  fco2Uatm: number;
  pco2Uatm: number;
  omegaAragonite: number;
  omegaCalcite: number;
}

/** What the sums need, worked out once per water. */
interface Solution {
  water: CarbonateWater;
  k: CarbonateConstants;
  boronUmolKg: number;
}

/**
 * The carbonate system from alkalinity and pH.
 *
 * @param phTotal pH on the total scale, 6 to 10 (see `totalPhFromNbs` for a probe set with ordinary buffers)
 * @throws RangeError outside the stated ranges, or when the alkalinity is less than boron and water make up at that pH
 * Error: 0.1 % against other implementations; see `carbonateOfReading` for what measurements leave uncertain.
 * Source: Dickson, Sabine & Christian 2007, Guide to Best Practices for Ocean CO2 Measurements, chapter 2; constants in
 * `carbonateConstants`.
 */
export function carbonateFromPh(water: CarbonateWater, phTotal: number): CarbonateSystem {
  return systemAt(solutionOf(water), phTotal);
}

/**
 * The carbonate system from alkalinity and dissolved inorganic carbon (100 to 10,000 umol/kg), to 1e-10 in pH.
 *
 * @throws RangeError as {@link carbonateFromPh}, or when the pH would lie outside 6 to 10
 */
export function carbonateFromDic(water: CarbonateWater, dicUmolKg: number): CarbonateSystem {
  inRange(dicUmolKg, 100, 10_000, 'dissolved inorganic carbon', 'umol/kg');
  const solution = solutionOf(water);
  const alkalinityAt = (ph: number) => {
    const h = 10 ** -ph;
    return carbonAlkalinityShare(solution.k, h) * dicUmolKg + otherAlkalinity(solution, h);
  };
  inRange(
    water.alkalinityUmolKg,
    alkalinityAt(6),
    alkalinityAt(10),
    'alkalinity with this carbon',
    'umol/kg',
  );
  return systemAt(solution, solveMonotone(alkalinityAt, water.alkalinityUmolKg, 6, 10));
}

/** The system with constants of the caller's choosing, for propagating their uncertainty. */
export function carbonateWith(
  water: CarbonateWater,
  phTotal: number,
  k: CarbonateConstants,
  boronFactor: number,
): CarbonateSystem {
  const solution = solutionOf(water);
  return systemAt({ water, k, boronUmolKg: solution.boronUmolKg * boronFactor }, phTotal);
}

function solutionOf(water: CarbonateWater): Solution {
  inRange(water.salinity, 19, 43, 'practical salinity');
  inRange(water.temperatureDegC, 2, 35, 'temperature', 'degC');
  inRange(water.alkalinityUmolKg, 100, 10_000, 'alkalinity', 'umol/kg');
  inRange(water.calciumUmolKg ?? 0, 0, 100_000, 'calcium', 'umol/kg');
  inRange(water.phosphateUmolKg ?? 0, 0, 1000, 'phosphate', 'umol/kg');
  const k = carbonateConstants(water.salinity, water.temperatureDegC);
  return { water, k, boronUmolKg: boronUmolPerKg(water.salinity, water.boron) };
}

function systemAt(solution: Solution, phTotal: number): CarbonateSystem {
  const h = 10 ** -inRange(phTotal, 6, 10, 'pH (total scale)');
  const { water, k } = solution;
  const carbonAlkalinity = water.alkalinityUmolKg - otherAlkalinity(solution, h);
  const dic = carbonAlkalinity / carbonAlkalinityShare(k, h);
  if (!(dic > 0))
    throw new RangeError(`alkalinity ${water.alkalinityUmolKg} umol/kg leaves no carbonate at pH ${phTotal}`);
  const sum = h * h + k.k1 * h + k.k1 * k.k2;
  const co2 = (dic * h * h) / sum;
  const carbonate = (dic * k.k1 * k.k2) / sum;
  const calcium = water.calciumUmolKg ?? calciumUmolPerKg(water.salinity);
  const fco2 = co2 / k.k0;
  return {
    phTotal,
    alkalinityUmolKg: water.alkalinityUmolKg,
    dicUmolKg: dic,
    co2UmolKg: co2,
    bicarbonateUmolKg: (dic * k.k1 * h) / sum,
    carbonateUmolKg: carbonate,
    fco2Uatm: fco2,
    pco2Uatm: fco2 / fugacityFactor(water.temperatureDegC),
    omegaAragonite: (calcium * carbonate * 1e-12) / k.kAragonite,
    omegaCalcite: (calcium * carbonate * 1e-12) / k.kCalcite,
  };
}

/** Equivalents of alkalinity per mole of dissolved carbon at [H+] = h. */
function carbonAlkalinityShare(k: CarbonateConstants, h: number): number {
  return (k.k1 * h + 2 * k.k1 * k.k2) / (h * h + k.k1 * h + k.k1 * k.k2);
}

/** Alkalinity of borate, phosphate, hydroxide and (taken off) protons, umol/kg, at [H+] = h on the total scale. */
function otherAlkalinity({ water, k, boronUmolKg }: Solution, h: number): number {
  const borate = boronUmolKg / (1 + h / k.kBoric);
  const phosphate = water.phosphateUmolKg ? water.phosphateUmolKg * phosphateCharge(k, h) : 0;
  return borate + phosphate + (k.kWater / h - h) * 1e6;
}

/** Proton acceptors per phosphate relative to H2PO4-: [HPO4] + 2 [PO4] - [H3PO4], over the total. */
function phosphateCharge(
  { kPhosphoric1: k1, kPhosphoric2: k2, kPhosphoric3: k3 }: CarbonateConstants,
  h: number,
): number {
  const [first, second, third] = [k1 * h * h, k1 * k2 * h, k1 * k2 * k3];
  return (second + 2 * third - h ** 3) / (h ** 3 + first + second + third);
}

/** Fugacity of carbon dioxide over its partial pressure in moist air at 1 atm. Source: Weiss 1974. */
function fugacityFactor(temperatureDegC: number): number {
  const t = temperatureDegC + 273.15;
  const virial = -1636.75 + 12.0408 * t - 0.0327957 * t * t + 3.16528e-5 * t ** 3;
  const cross = 57.7 - 0.118 * t;
  const GAS_CONSTANT_CM3_ATM = 82.05746;
  return Math.exp((virial + 2 * cross) / (GAS_CONSTANT_CM3_ATM * t));
}
