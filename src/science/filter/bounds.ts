/** A reading that may only say on which side of `value` the level lies. */
interface Bounded {
  value: number;
  bound?: 'below' | 'above';
}

/**
 * Whether a number lies where the bound read before it left the level: beyond it on its side. A bound is no level, so such a
 * number is no slip however far beyond the bound it lies.
 */
export function numberAfterBound(before: Bounded | null, { value, bound }: Bounded): boolean {
  if (bound !== undefined || before === null || before.bound === undefined) return false;
  return before.bound === 'above' ? value >= before.value : value <= before.value;
}
