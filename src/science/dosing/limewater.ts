import { bisector } from 'd3-array';
import { type CarbonateWater, carbonateFromDic, carbonateFromPh } from '../carbonate.ts';
import { inRange, positive } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';
import { type Solution, solutionOf } from './dose.ts';
import { SUBSTANCES, type SubstanceCode } from './substances.ts';

/** Solubility of calcium hydroxide, g per kg of water: handbook series; other sources lie up to 12 % lower. */
const SOLUBILITY: readonly { degC: number; gPerKg: number }[] = [
  { degC: 0, gPerKg: 1.85 },
  { degC: 10, gPerKg: 1.76 },
  { degC: 20, gPerKg: 1.65 },
  { degC: 30, gPerKg: 1.53 },
  { degC: 40, gPerKg: 1.41 },
];

/** Part of the strength that other sources leave open. */
export const LIMEWATER_UNCERTAINTY = 0.12;

/**
 * Saturated limewater: what a millilitre raises. Colder water holds more.
 *
 * @param temperatureDegC at which it stood on its lime, 0 to 40
 * Error: {@link LIMEWATER_UNCERTAINTY} between sources; it also weakens under air, as carbon dioxide takes lime out.
 * Source: handbook series of solubilities, interpolated; compared with PHREEQC 3.
 */
export function saturatedLimewater(temperatureDegC: number): Solution {
  return solutionOf('calcium-hydroxide', limeSolubilityGPerL(temperatureDegC));
}

/** Solubility of calcium hydroxide in g/L at 0 to 40 degC; ranges and error as {@link saturatedLimewater}. */
export function limeSolubilityGPerL(temperatureDegC: number): number {
  inRange(temperatureDegC, 0, 40, 'temperature of the limewater', 'degC');
  const above = bisector((row: (typeof SOLUBILITY)[number]) => row.degC).right(SOLUBILITY, temperatureDegC);
  const high = SOLUBILITY[Math.min(above, SOLUBILITY.length - 1)] as (typeof SOLUBILITY)[number];
  const low = SOLUBILITY[Math.min(above, SOLUBILITY.length - 1) - 1] as (typeof SOLUBILITY)[number];
  return low.gPerKg + ((high.gPerKg - low.gPerKg) * (temperatureDegC - low.degC)) / (high.degC - low.degC);
}

/** The most alkalinity, meq/L a day, that saturated limewater can bring when it only replaces what evaporates. */
export function limewaterLimitMeqLPerDay(
  evaporationLPerDay: number,
  volumeL: number,
  temperatureDegC: number,
): number {
  inRange(evaporationLPerDay, 0, positive(volumeL, 'volume', 'L'), 'evaporation', 'L/d');
  const perMl = saturatedLimewater(temperatureDegC).perMl.alkalinity ?? 0;
  return (evaporationLPerDay * 1000 * perMl) / volumeL;
}

/**
 * The pH (total scale) right after a dose of alkalinity, before the air has answered: limewater brings no carbon and
 * lifts it most, sodium carbonate half as much, sodium bicarbonate lowers it a little.
 *
 * @param water the system before the dose, ranges as `carbonateFromPh`
 * @param riseUmolKg alkalinity that the dose adds, 0 to 3000 umol/kg (about 1000 to the meq/L)
 * @param code a substance that raises alkalinity
 * Source: `carbonateFromDic` with the carbon that the substance brings.
 */
export function phAfterAlkalinityDose(
  water: CarbonateWater,
  phTotal: number,
  riseUmolKg: number,
  code: SubstanceCode,
): number {
  inRange(riseUmolKg, 0, 3000, 'rise of alkalinity', 'umol/kg');
  const { perGram, carbonPerEquivalent, name }: (typeof SUBSTANCES)[SubstanceCode] = SUBSTANCES[code];
  if (!('alkalinity' in perGram)) throw new RangeError(`${name} does not raise alkalinity`);
  const { dicUmolKg } = carbonateFromPh(water, phTotal);
  const after = { ...water, alkalinityUmolKg: water.alkalinityUmolKg + riseUmolKg };
  return carbonateFromDic(after, dicUmolKg + riseUmolKg * carbonPerEquivalent).phTotal;
}

/** The most alkalinity, umol/kg, that one dose may add before the pH passes `phCap` (above the present pH, up to 9); 3000 at most. */
export function riseUpToPh(
  water: CarbonateWater,
  phTotal: number,
  phCap: number,
  code: SubstanceCode,
): number {
  inRange(phCap, phTotal, 9, 'highest pH allowed');
  const phAt = (rise: number) => phAfterAlkalinityDose(water, phTotal, rise, code);
  const MOST = 3000;
  const furthest = reachable(phAt, MOST);
  if (furthest !== undefined && furthest <= phCap) return MOST;
  if (phAt(0) >= phCap) return 0;
  return solveMonotone((rise) => reachable(phAt, rise) ?? 10, phCap, 0, MOST);
}

/** The pH, or undefined where it would leave the range of the equations. */
function reachable(phAt: (rise: number) => number, rise: number): number | undefined {
  try {
    return phAt(rise);
  } catch (error) {
    if (error instanceof RangeError) return undefined;
    throw error;
  }
}
