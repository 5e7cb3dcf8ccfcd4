import type { SystemNumbers } from './system-numbers.rules.ts';

/** Minutes after which a look is due, and why; null where the system's numbers say nothing sooner. */
export type Sooner = (system: SystemNumbers) => Again | null;

/** A look sooner than this gives nobody the time to do anything; minutes, own choice. */
const least = 5;

/** When a look is due, and why sooner than its step says; `why` is '' where it is not. */
export interface Again {
  minutes: number;
  why: string;
}

/** The step's own time, or the shortest that these waters' numbers leave, in whole minutes. */
export function againIn(
  { sooner = [] }: { readonly sooner?: readonly Sooner[] },
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
