import { minuteMs } from '../../science/numeric/time.ts';

/** How much of its minute a key has used. */
export interface Rate {
  limit: number;
  left: number;
  /** Seconds until the minute begins anew. */
  resetS: number;
  isOver: boolean;
}

const minutes = new Map<string, { minute: number; used: number }>();

/**
 * Counts one request of a key in the minute of `now`. Each instance counts by itself: a row that every request of a
 * probe waits for would cost more than the limit keeps off.
 */
export function countRequest(key: string, limit: number, now: Date): Rate {
  const minute = Math.floor(now.getTime() / minuteMs);
  const before = minutes.get(key);
  const used = (before?.minute === minute ? before.used : 0) + 1;
  minutes.set(key, { minute, used: Math.min(used, limit + 1) });
  const resetS = Math.max(1, Math.ceil(((minute + 1) * minuteMs - now.getTime()) / 1000));
  return { limit, left: Math.max(0, limit - used), resetS, isOver: used > limit };
}

/** As the IETF's draft of RateLimit header fields has it: the policy, and what is left of it. */
export const rateHeaders = ({ limit, left, resetS }: Rate): Record<string, string> => ({
  'ratelimit-policy': `"minute";q=${limit};w=60`,
  ratelimit: `"minute";r=${left};t=${resetS}`,
});
