import { type CarbonateWater, calciumUmolPerKg, carbonateFromDic, carbonateFromPh } from '../carbonate.ts';
import { inRange, positive } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';
import { densityKgPerM3 } from '../seawater/density.ts';
import { phAfterAlkalinityDose } from './limewater.ts';

/** Molar mass of carbon dioxide, g/mol. */
const CARBON_DIOXIDE_G_PER_MOL = 44.009;

/**
 * Alkalinity that limewater brought, meq/L, told by the pH it left, before the air has answered.
 *
 * @param before the water before, with its alkalinity
 * @param phBefore total scale
 * @param phNow total scale, at or above `phBefore`, up to 9.9
 * @throws RangeError where 3 meq/L do not explain the pH
 * Error: 0.1 in pH is 0.1 to 0.2 meq/L; where snow has fallen, more came in than this says.
 */
export function limewaterFromPh(before: CarbonateWater, phBefore: number, phNow: number): number {
  inRange(phNow, phBefore, 9.9, 'pH now');
  const at = (rise: number) => phAfterAlkalinityDose(before, phBefore, rise, 'calcium-hydroxide');
  const most = (() => {
    for (let rise = 250; rise <= 3000; rise += 250) if (phOr(at, rise) >= phNow) return rise;
    throw new RangeError(`3 meq/L of limewater do not bring pH ${phNow}`);
  })();
  const umolKg = solveMonotone((rise) => phOr(at, rise), phNow, 0, most);
  return (umolKg * densityKgPerM3(before.salinity, before.temperatureDegC)) / 1e6;
}

/** Beyond pH 10 the equations end; 10 is high enough to bracket. */
function phOr(at: (rise: number) => number, rise: number): number {
  try {
    return at(rise);
  } catch (error) {
    if (error instanceof RangeError) return 10;
    throw error;
  }
}

/** Litres of limewater that hold this much alkalinity; `strengthMeqL` of the limewater (saturated at 25 degC: about 43). */
export function limewaterL(riseMeqL: number, volumeL: number, strengthMeqL: number): number {
  return (riseMeqL * positive(volumeL, 'volume', 'L')) / positive(strengthMeqL, 'strength', 'meq/L');
}

/**
 * Grams of carbon dioxide that bring water of this pH back to `phGoal` (total scale, below it) at its alkalinity.
 *
 * Source: the carbon that `carbonateFromPh` gives for both.
 */
export function carbonDioxideG(
  water: CarbonateWater,
  phNow: number,
  phGoal: number,
  volumeL: number,
): number {
  inRange(phGoal, 7, phNow, 'pH to reach');
  const carbon = carbonateFromPh(water, phGoal).dicUmolKg - carbonateFromPh(water, phNow).dicUmolKg;
  const kg = (volumeL / 1000) * densityKgPerM3(water.salinity, water.temperatureDegC);
  return carbon * 1e-6 * kg * CARBON_DIOXIDE_G_PER_MOL;
}

/** pH and saturation right after limewater raised the alkalinity by `riseMeqL`. Ranges as `phAfterAlkalinityDose`. */
export function afterLimewater(before: CarbonateWater, phBefore: number, riseMeqL: number) {
  const rise = (riseMeqL * 1e6) / densityKgPerM3(before.salinity, before.temperatureDegC);
  const { dicUmolKg } = carbonateFromPh(before, phBefore);
  // Each mole of lime brings one of calcium and two equivalents.
  const calcium = (before.calciumUmolKg ?? calciumUmolPerKg(before.salinity)) + rise / 2;
  const alkalinityUmolKg = before.alkalinityUmolKg + rise;
  return carbonateFromDic({ ...before, alkalinityUmolKg, calciumUmolKg: calcium }, dicUmolKg);
}
