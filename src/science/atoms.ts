/**
 * Standard atomic weights in g/mol, abridged to five digits. Source: IUPAC Commission on Isotopic Abundances
 * and Atomic Weights, abridged standard atomic weights 2021.
 */
export const ATOMIC_WEIGHT_G_PER_MOL = {
  H: 1.008,
  B: 10.81,
  C: 12.011,
  N: 14.007,
  O: 15.999,
  F: 18.998,
  Na: 22.99,
  Mg: 24.305,
  Si: 28.085,
  P: 30.974,
  S: 32.06,
  Cl: 35.45,
  K: 39.098,
  Ca: 40.078,
  Br: 79.904,
  Sr: 87.62,
  I: 126.9,
} as const;

export type Element = keyof typeof ATOMIC_WEIGHT_G_PER_MOL;

/**
 * Molar mass in g/mol of a substance given as atoms per formula unit, e.g. `{ Ca: 1, Cl: 2 }`. Error: that of
 * the atomic weights, below 0.02 % for every substance used here. The mass of an ion's electrons is left out.
 */
export function molarMassGPerMol(atoms: Partial<Record<Element, number>>): number {
  const parts = Object.entries(atoms) as [Element, number][];
  return parts.reduce((sum, [element, count]) => sum + count * ATOMIC_WEIGHT_G_PER_MOL[element], 0);
}
