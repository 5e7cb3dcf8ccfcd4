import { plural } from '../../platform/words/numbers.ts';
import { hourMs } from '../../science/numeric/time.ts';

/** Until when the buyer of a box can claim, by the farm's own terms, and how it stands now. */
export interface ClaimClock {
  endsAt: Date;
  isOver: boolean;
  /** "3 h left", "over since 2 h" */
  words: string;
}

const hourWords = (hours: number) => plural(Math.max(1, Math.round(hours)), 'hour', 'hours');

/** The clock of a claim: from the arrival on; null where the box has not arrived, or the farm has no such terms. */
export function claimClock(
  { arrivedAt, claimHours }: { arrivedAt: Date | null; claimHours: number | null },
  now: Date,
): ClaimClock | null {
  if (arrivedAt === null || claimHours === null) return null;
  const endsAt = new Date(arrivedAt.getTime() + claimHours * hourMs);
  const left = (endsAt.getTime() - now.getTime()) / hourMs;
  return {
    endsAt,
    isOver: left <= 0,
    words: left > 0 ? `${hourWords(left)} left` : `over for ${hourWords(-left)}`,
  };
}
