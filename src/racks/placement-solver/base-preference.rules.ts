import type { Base } from '../../generated/prisma/enums.ts';

const names: readonly (readonly [Base, RegExp])[] = [
  ['egg_crate', /egg-?\s?crate/i],
  ['rock', /\b(rock|rubble)/i],
  ['sand', /\b(sand|gravel)/i],
];

/** What is said after these is what it does not stand on, or no base at all. */
const rest = /[.;:]|\brather than\b|\bnot on\b|\bnever\b|\bmust not\b/i;

/**
 * The bases that a care line names for a kind ("Rock or egg-crate rather than fine sand: ..." names rock and
 * egg-crate). What stands on rock stands on egg-crate as well, on a mount of rock (common practice). Null when it names
 * none, or nothing is said: then any base will do.
 */
export function basesIn(words: string | null): ReadonlySet<Base> | null {
  const [said = ''] = (words ?? '').split(rest);
  const named = names.filter(([, pattern]) => pattern.test(said)).map(([base]) => base);
  if (named.length === 0) return null;
  return new Set(named.includes('rock') ? [...named, 'egg_crate' as const] : named);
}
