import type { Finding } from '../../../src/alerts/finding.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { dayZero } from '../../watch/facts.ts';
import { factsAt } from './facts.ts';
import { namesBoth } from './naming.ts';
import { screens, worthAsking } from './screen.ts';
import { evaluating, type Tried } from './settings.ts';
import type { Logged } from './world.ts';

/** A statistic after one reading, on a day of the world. */
export interface Look {
  day: number;
  /** Whether it stands above its limit. */
  above: boolean;
  /** Whether its alert stands open: it opened, and nothing closed it since. */
  open?: boolean;
  /** It names itself as the cause: no other alert that stands open would explain it. */
  own?: boolean;
  /** An alert on a fall that names a swing beside it. */
  both?: boolean;
}

export interface Followed {
  looks: Look[];
  /** Readings at which the rule was asked, and that many of them though the screen saw no need. */
  asked: number;
  checked: number;
  /** How many of those the rule would have fired at. */
  missed: number;
}

/** Part of the readings the screen passes over at which the rule is asked all the same, to see that it is silent. */
const checkedPart = 0.01;

/**
 * What a rule says at each reading of a world from day `from` on, by its own evaluation on the facts of that moment;
 * with `untilAfter` no further than the first alert after that day.
 */
export function follow(
  world: Logged,
  rule: string,
  tried: Tried,
  { from, untilAfter = Number.POSITIVE_INFINITY }: { from: number; untilAfter?: number },
): Followed {
  const evaluate = evaluating(rule, tried);
  const near = screens[rule]?.(world, tried);
  const random = seededRandom(world.readings.length);
  const followed: Followed = { looks: [], asked: 0, checked: 0, missed: 0 };
  let open: boolean = false;
  for (const [i, { day: stamp }] of world.readings.entries()) {
    const day = stamp - dayZero;
    if (day < from) continue;
    const isNear = near === undefined || (near[i] ?? 0) >= worthAsking;
    const worth: boolean = isNear || open;
    const check = !worth && random.uniform() < checkedPart;
    const found: Finding[] = worth || check ? evaluate(factsAt(world, stamp), stamp) : [];
    const firing = found.filter(({ status }) => status === 'fires');
    const fires = firing.length > 0;
    open = fires || (open && found.length > 0);
    followed.asked += worth ? 1 : 0;
    followed.checked += check ? 1 : 0;
    followed.missed += check && fires ? 1 : 0;
    const own = firing.some(({ causes }) => causes.length === 0);
    followed.looks.push({ day, above: fires, open, own, both: firing.some(namesBoth) });
    if (fires && day >= untilAfter) break;
  }
  return followed;
}
