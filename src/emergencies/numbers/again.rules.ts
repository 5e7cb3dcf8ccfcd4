import type { EmergencyEvent } from '../events/event.ts';
import type { SystemNumbers } from './system-numbers.rules.ts';

/** A look sooner than this gives nobody the time to do anything; minutes, own choice. */
const least = 5;

/** When a look is due, and why sooner than its step says; `why` is '' where it is not. */
export interface Again {
  minutes: number;
  why: string;
}

/** The step's own time, or the shortest that these waters' numbers leave, in whole minutes. */
export function againIn(
  { sooner = [] }: Pick<EmergencyEvent, 'sooner'>,
  usualMin: number,
  systems: readonly SystemNumbers[],
): Again {
  const found = systems
    .flatMap((system) => sooner.map((limit) => limit(system)))
    .filter((one) => one !== null);
  const [first] = found.toSorted((a, b) => a.minutes - b.minutes);
  if (first === undefined || first.minutes >= usualMin) return { minutes: usualMin, why: '' };
  return { minutes: Math.max(least, Math.floor(first.minutes)), why: first.why };
}
