/**
 * How a survey compares with the one before it, slot by slot: the median of the ratios. `before` is scaled to the lamp
 * setting of `now`; slots without light before are left out. Null when none is left.
 */
export function medianRatio(pairs: readonly { before: number; now: number }[]): number | null {
  const ratios = pairs.flatMap(({ before, now }) => (before > 0 ? [now / before] : [])).sort((a, b) => a - b);
  if (ratios.length === 0) return null;
  const middle = ratios.length / 2;
  const [low, high] = [ratios[Math.ceil(middle) - 1] ?? 0, ratios[Math.floor(middle)] ?? 0];
  return (low + high) / 2;
}

/** A ratio this close to the factor, or to its inverse, is taken for the factor and not for the lamps (own choice). */
const FACTOR_TOLERANCE = 0.04;
/** Below this factor its effect cannot be told from an unchanged light. */
const LEAST_FACTOR = 1 + FACTOR_TOLERANCE;

/** Doubt whether the immersion factor was applied twice or not at all, in words; null when there is no such doubt. */
export function factorDoubt(ratio: number | null, immersionFactor: number): string | null {
  if (ratio === null || immersionFactor < LEAST_FACTOR) return null;
  const near = (wanted: number) => Math.abs(ratio / wanted - 1) < FACTOR_TOLERANCE;
  const change = `${Math.round(Math.abs(ratio - 1) * 100)} %`;
  if (near(immersionFactor))
    return `The light is ${change} more than the survey before gives for this setting, about the immersion factor itself. If the lamps are the same, look whether the factor was applied twice.`;
  if (near(1 / immersionFactor))
    return `The light is ${change} less than the survey before gives for this setting, about what leaving out the immersion factor does. If the lamps are the same, look whether it was applied at all.`;
  return null;
}
