import { finite, inRange, notNegative, wholeNumber } from '../numeric/range.ts';

/**
 * Concentration after one water change, in the unit of the two concentrations: old (1 - f) + fresh f.
 *
 * @param fraction part of the system's volume that is replaced, 0 to 1
 * Error: exact for a well-mixed system; salinity by volume is 0.1 % off (see `salinityExchangeL`).
 * Source: conservation of mass.
 */
export function afterWaterChange(concentration: number, fresh: number, fraction: number): number {
  return afterWaterChanges(concentration, fresh, fraction, 1);
}

/** Concentration after `count` (0 to 100,000) equal water changes with nothing produced between them. */
export function afterWaterChanges(
  concentration: number,
  fresh: number,
  fraction: number,
  count: number,
): number {
  notNegative(concentration, 'concentration');
  notNegative(fresh, 'concentration of the fresh water');
  inRange(fraction, 0, 1, 'fraction changed');
  wholeNumber(count, 0, 100_000, 'number of changes');
  return fresh + (concentration - fresh) * (1 - fraction) ** count;
}

/**
 * The fewest equal changes of `fraction` (above 0 to 1) that bring the concentration to the target or beyond it.
 *
 * @throws RangeError when the target does not lie between the concentration and the fresh water, or equals the
 * fresh water and the changes are not whole
 */
export function changesToReach(
  concentration: number,
  fresh: number,
  target: number,
  fraction: number,
): number {
  inRange(fraction, 1e-6, 1, 'fraction changed');
  const left = partLeft(concentration, fresh, target);
  if (left === 1) return 0;
  if (fraction === 1) return 1;
  if (left === 0)
    throw new RangeError(`water changes come near ${fresh}, never to it; choose a target between`);
  // The tiny allowance keeps a target that is met exactly from costing one change more.
  return Math.ceil(Math.log(left) / Math.log(1 - fraction) - 1e-9);
}

/** The part of the distance to the fresh water that is left at the target: 1 no change wanted, 0 the fresh water itself. */
function partLeft(concentration: number, fresh: number, target: number): number {
  notNegative(concentration, 'concentration');
  notNegative(fresh, 'concentration of the fresh water');
  finite(target, 'target');
  if (target === concentration) return 1;
  const left = (target - fresh) / (concentration - fresh);
  if (left >= 0 && left <= 1) return left;
  throw new RangeError(
    `${target} does not lie between ${concentration} and the fresh water's ${fresh}: no change reaches it`,
  );
}
