import { dayOf } from '../../science/numeric/time.ts';

/**
 * Why the doses in a log may not all have gone in. `suspected`: an open alert asks for a look at the doser and nobody has looked.
 * `wrong`: somebody found it wrong, and nobody said that it gives its full amount again. `righted`: it does since `sinceDay` (days
 * since 1970); what was logged before did not all go in.
 */
export type DoserDoubt =
  | { state: 'suspected'; title: string }
  | { state: 'wrong'; title: string }
  | { state: 'righted'; sinceDay: number };

/** What is on record of the dosers of one quantity in one system. */
export interface DoserRecord {
  /** What was found last at it, on an alert. */
  looked: { state: 'well' | 'righted' | 'wrong'; at: Date; since: Date | null } | null;
  /** The last fault of it that somebody noted, and when it was mended. */
  fault: { seen: string; at: Date; mendedAt: Date | null } | null;
  /** When a measured amount of it was entered last. */
  measuredAt: Date | null;
  /** The open alert that asks for a look at it, and since when. */
  asking: { title: string; at: Date } | null;
}

/** What to think of the doses in the log; null where nothing speaks against them. What was said last counts. */
export function doubtOf({ looked, fault, measuredAt, asking }: DoserRecord): DoserDoubt | null {
  const found = foundLast({ looked, fault });
  if (found?.state === 'wrong') return { state: 'wrong', title: found.title };
  const seenAt = Math.max(0, found?.at.getTime() ?? 0, measuredAt?.getTime() ?? 0);
  if (asking !== null && asking.at.getTime() > seenAt) return { state: 'suspected', title: asking.title };
  return found?.state === 'righted' ? { state: 'righted', sinceDay: dayOf(found.since) } : null;
}

type Found = { state: 'well' | 'righted' | 'wrong'; at: Date; since: Date; title: string };

function foundLast({ looked, fault }: Pick<DoserRecord, 'looked' | 'fault'>): Found | null {
  const byLook: Found[] =
    looked === null ? [] : [{ ...looked, since: looked.since ?? looked.at, title: 'what was found at it' }];
  const byFault: Found[] =
    fault === null
      ? []
      : [
          {
            state: fault.mendedAt === null ? 'wrong' : 'righted',
            at: fault.mendedAt ?? fault.at,
            since: fault.mendedAt ?? fault.at,
            title: fault.seen,
          },
        ];
  return [...byLook, ...byFault].sort((a, b) => b.at.getTime() - a.at.getTime())[0] ?? null;
}

/** The part of what is logged that a doser gives, were the stock to use what it did before; null where that says nothing. */
export function partGiven({
  use,
  before,
  dosed,
}: {
  use: number;
  before: number | null;
  dosed: number;
}): number | null {
  if (before === null || dosed <= 0) return null;
  const part = 1 - (use - before) / dosed;
  return part > 0 && part < leastDoubt ? part : null;
}

/** A doser that would give nearly all is not what moves the level; own choice. */
const leastDoubt = 0.95;

/** Readings from when on all that is logged went in. */
export const sinceRighted = <R extends { day: number }>(
  readings: readonly R[],
  doubt: DoserDoubt | null | undefined,
): readonly R[] =>
  doubt?.state === 'righted' ? readings.filter(({ day }) => day >= doubt.sinceDay) : readings;
