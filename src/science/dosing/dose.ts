import { inRange, notNegative, positive } from '../numeric/range.ts';
import {
  amountPerGram,
  type DosedQuantity,
  SUBSTANCES,
  type Substance,
  type SubstanceCode,
} from './substances.ts';

/** Rises in the system, in canonical units: alkalinity meq/L, calcium and magnesium mg/L. */
export type Rise = Partial<Record<DosedQuantity, number>>;

/**
 * Grams of a dry substance that raise a quantity by `rise` (0 or more, canonical unit) in `volumeL` of water.
 *
 * @param purity share of the substance in what is weighed, 0.5 to 1; damp calcium chloride is below its label
 * Error: 0.02 % of the stoichiometry; the purity and the volume decide.
 * Source: stoichiometry with IUPAC atomic weights 2021; the volume of the dose itself is left out.
 */
export function gramsForRise(
  code: SubstanceCode,
  quantity: DosedQuantity,
  rise: number,
  volumeL: number,
  purity = 1,
): number {
  notNegative(rise, `rise of ${quantity}`);
  positive(volumeL, 'volume', 'L');
  return (rise * volumeL) / amountPerGram(code, quantity, purity);
}

/** All that `grams` (0 or more) of a dry substance raise in `volumeL`; the inverse of {@link gramsForRise}. */
export function riseFromGrams(code: SubstanceCode, grams: number, volumeL: number, purity = 1): Rise {
  notNegative(grams, 'dose', 'g');
  positive(volumeL, 'volume', 'L');
  const quantities = Object.keys(SUBSTANCES[code].perGram) as DosedQuantity[];
  return Object.fromEntries(
    quantities.map((quantity) => [quantity, (grams * amountPerGram(code, quantity, purity)) / volumeL]),
  );
}

/** A solution that is dosed by volume: what a millilitre holds, meq of alkalinity or mg of calcium or magnesium. */
export interface Solution {
  readonly perMl: Rise;
}

/** A solution mixed from `gramsPerLitre` (above 0 to 1000) of a dry substance per litre of finished solution. */
export function solutionOf(code: SubstanceCode, gramsPerLitre: number, purity = 1): Solution {
  inRange(gramsPerLitre, 0.001, 1000, 'strength', 'g/L');
  const quantities = Object.keys(SUBSTANCES[code].perGram) as DosedQuantity[];
  const perMl = quantities.map((quantity) => [
    quantity,
    (gramsPerLitre * amountPerGram(code, quantity, purity)) / 1000,
  ]);
  return { perMl: Object.fromEntries(perMl) };
}

/** A solution as bottles state it: `doseMl` in `volumeL` raises the quantity by `rise` (canonical unit); all above 0. */
export function solutionByClaim(
  quantity: DosedQuantity,
  rise: number,
  doseMl: number,
  volumeL: number,
): Solution {
  const amount = positive(rise, `rise of ${quantity}`) * positive(volumeL, 'volume', 'L');
  return { perMl: { [quantity]: amount / positive(doseMl, 'dose', 'mL') } };
}

/** Millilitres of a solution that raise a quantity by `rise` (0 or more, canonical unit) in `volumeL`. */
export function millilitresForRise(
  solution: Solution,
  quantity: DosedQuantity,
  rise: number,
  volumeL: number,
): number {
  notNegative(rise, `rise of ${quantity}`);
  positive(volumeL, 'volume', 'L');
  const perMl = solution.perMl[quantity];
  if (perMl === undefined) throw new RangeError(`this solution does not raise ${quantity}`);
  return (rise * volumeL) / positive(perMl, 'strength per mL');
}

/** All that `doseMl` (0 or more) of a solution raise in `volumeL`. */
export function riseFromMillilitres(solution: Solution, doseMl: number, volumeL: number): Rise {
  notNegative(doseMl, 'dose', 'mL');
  positive(volumeL, 'volume', 'L');
  const rises = Object.entries(solution.perMl).map(([quantity, perMl]) => [
    quantity,
    (perMl * doseMl) / volumeL,
  ]);
  return Object.fromEntries(rises);
}

/** Grams of salt without its water of crystallisation in `grams` of a substance. */
export function dryGrams(code: SubstanceCode, grams: number): number {
  const { dryShare }: Substance = SUBSTANCES[code];
  return notNegative(grams, 'dose', 'g') * dryShare;
}
