import type { Base } from '../../generated/prisma/enums.ts';

const names: readonly (readonly [Base, RegExp])[] = [
  ['egg_crate', /egg-?\s?crate/i],
  ['rock', /\b(rock|rubble)/i],
  ['sand', /\b(sand|gravel)/i],
];

/** The text after one of these names bases that do not suit, or something else. */
const endOfBases = /[.;:]|\brather than\b|\bnot on\b|\bnever\b|\bmust not\b/i;

/**
 * The bases that the care figure "Stands on" accepts ("Rock or egg-crate rather than fine sand: ..." accepts rock and
 * egg-crate). A lot that stands on rock stands on egg-crate as well, on a mount of rock (common practice). Null when the
 * text names none, or there is no text: then any base will do.
 */
export function acceptedBases(words: string | null): ReadonlySet<Base> | null {
  const [list = ''] = (words ?? '').split(endOfBases);
  const named = names.filter(([, pattern]) => pattern.test(list)).map(([base]) => base);
  if (named.length === 0) return null;
  return new Set(named.includes('rock') ? [...named, 'egg_crate' as const] : named);
}
