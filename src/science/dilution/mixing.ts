import { inRange, notNegative, positive } from '../range.ts';

/** Some water and what is in it; concentrations by quantity code, each in one unit throughout. */
export interface Water {
  readonly volumeL: number;
  readonly concentrations: Readonly<Record<string, number>>;
}

/**
 * Quantities that do not mix in proportion to volume: pH and redox potential are logarithms of concentrations in
 * equilibrium, light is no content of the water.
 */
const UNMIXABLE = new Set(['ph', 'orp', 'par']);

/**
 * Concentrations in the mixture of two or more waters, for every quantity that is known in all of them:
 * the volume-weighted mean. Volumes add up; the contraction on mixing seawaters is below 0.01 %.
 *
 * @throws RangeError for pH, redox potential and light, which do not mix in proportion
 * Source: conservation of mass. Temperature mixes alike within 0.5 % (heat capacities of sea and fresh water).
 */
export function mixWaters(waters: readonly Water[]): Water {
  const volumeL = positive(
    waters.reduce((sum, water) => sum + notNegative(water.volumeL, 'volume', 'L'), 0),
    'volume of the mixture',
    'L',
  );
  const [first, ...others] = waters as [Water, ...Water[]];
  const known = Object.keys(first.concentrations).filter((code) =>
    others.every((water) => code in water.concentrations),
  );
  const concentrations = Object.fromEntries(known.map((code) => [code, mean(waters, code, volumeL)]));
  return { volumeL, concentrations };
}

/**
 * What several quantities become when `fraction` (0 to 1) of a system is replaced by make-up water of another
 * composition; only quantities known in both.
 */
export function afterExchange(
  system: Readonly<Record<string, number>>,
  makeUp: Readonly<Record<string, number>>,
  fraction: number,
): Record<string, number> {
  inRange(fraction, 0, 1, 'fraction changed');
  const mixed = mixWaters([
    { volumeL: 1 - fraction, concentrations: system },
    { volumeL: fraction, concentrations: makeUp },
  ]);
  return { ...mixed.concentrations };
}

function mean(waters: readonly Water[], code: string, volumeL: number): number {
  if (UNMIXABLE.has(code)) throw new RangeError(`${code} does not mix in proportion to volume`);
  return waters.reduce((sum, water) => {
    return sum + (water.volumeL / volumeL) * notNegative(water.concentrations[code] ?? Number.NaN, code);
  }, 0);
}
