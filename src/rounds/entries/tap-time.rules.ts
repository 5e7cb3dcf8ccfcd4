import { minuteMs } from '../../science/numeric/time.ts';
/** What is known about when something was tapped. */
export interface Tap {
  /** By the device's clock; null for a plain form, which is now. */
  at: Date | null;
  /** What the device's clock showed when it sent this; null where it did not say. */
  deviceNow: Date | null;
}

/** The time to keep, and what was wrong with the device's clock (null: nothing). */
export interface Timed {
  at: Date;
  clock: string | null;
}

/** Clocks that differ by less than this count as right, ms: tablets set themselves by the network (own choice). */
const TOLERANCE = 5 * minuteMs;
const DAY = 24 * 60 * minuteMs;

/**
 * When something was really done. Where the device says what its clock showed while sending, its times are corrected by
 * the difference to the service's clock. Where it does not, a time in the future or more than a day ago is replaced by
 * the service's own. A time before the round began is replaced too. `clock` says what was wrong.
 */
export function tapTime(tap: Tap, round: { startedAt: Date }, now: Date): Timed {
  if (tap.at === null) return { at: now, clock: null };
  const ahead = tap.deviceNow === null ? 0 : tap.deviceNow.getTime() - now.getTime();
  const wrong = Math.abs(ahead) > TOLERANCE;
  const at = wrong ? new Date(tap.at.getTime() - ahead) : tap.at;
  const doubt = doubtOf(at, tap, round, now);
  if (doubt !== null) return { at: now, clock: doubt };
  return { at: at > now ? now : at, clock: wrong ? `the tablet's clock was ${lengthWords(ahead)}` : null };
}

function doubtOf(at: Date, tap: Tap, round: { startedAt: Date }, now: Date): string | null {
  const back = now.getTime() - at.getTime();
  const said = tap.at?.toISOString() ?? '';
  if (back < -TOLERANCE) return `the tablet said ${said}, which is in the future`;
  if (tap.deviceNow === null && back > DAY) return `the tablet said ${said}, more than a day ago`;
  if (at.getTime() < round.startedAt.getTime() - TOLERANCE)
    return `the tablet said ${said}, before the round began`;
  return null;
}

function lengthWords(ahead: number): string {
  const minutes = Math.round(Math.abs(ahead) / minuteMs);
  const length = minutes < 120 ? `${minutes} min` : `${Math.round(minutes / 60)} h`;
  return `${length} ${ahead > 0 ? 'ahead' : 'behind'}`;
}
