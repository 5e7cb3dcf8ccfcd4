import { plural } from '../../platform/words/numbers.ts';
import type { SystemNumbers } from './system-numbers.rules.ts';

/** So many lots are named; more would push the steps off a tablet. Own choice. */
const mostNamed = 6;

/**
 * Which lots here may hold palytoxin or its kin, by kind and identification. None named is no all-clear: what nobody
 * identified is not known.
 */
export function poisonHere({ poisonous: { lots, unplaced } }: SystemNumbers): string[] {
  const named = lots.slice(0, mostNamed).map(({ code, name, rack }) => `${code} ${name} (${rack})`);
  const more = lots.length > mostNamed ? ` and ${lots.length - mostNamed} more` : '';
  const here =
    lots.length === 0
      ? 'No lot here is known to hold palytoxin. One that nobody identified may.'
      : `May hold palytoxin: ${named.join(', ')}${more}.`;
  if (unplaced === 0) return [here];
  return [
    here,
    `${plural(unplaced, 'lot', 'lots')} that may hold it ${unplaced === 1 ? 'has' : 'have'} no place noted.`,
  ];
}
