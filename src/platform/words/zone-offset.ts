import { Temporal } from 'temporal-polyfill';
import { dayMs } from '../../science/numeric/time.ts';

/** What a zone's clocks are ahead of UTC by, ms, for each UTC day in which they are not put on or back; null for the others. */
const known = new Map<string, Map<number, number | null>>();
/** Days that are kept of one zone (own choice: years of a farm). */
const mostDays = 5_000;

const askedOffset = (ms: number, timeZone: string): number =>
  Temporal.Instant.fromEpochMilliseconds(ms).toZonedDateTimeISO(timeZone).offsetNanoseconds / 1e6;

/** The offset of a whole UTC day: it is the same all day where it is the same at both ends. */
function offsetOfDay(day: number, timeZone: string): number | null {
  const first = askedOffset(day * dayMs, timeZone);
  return askedOffset((day + 1) * dayMs, timeZone) === first ? first : null;
}

/**
 * By how much a zone's clocks are ahead of UTC at a moment, ms. Asked for thousands of times a page, mostly of a few days.
 * @throws RangeError where the moment or the zone is none
 */
export function zoneOffset(at: Date, timeZone: string): number {
  const ms = at.getTime();
  const day = Math.floor(ms / dayMs);
  const ofZone = known.get(timeZone) ?? new Map<number, number | null>();
  let offset = ofZone.get(day);
  if (offset === undefined) {
    offset = offsetOfDay(day, timeZone);
    if (ofZone.size >= mostDays) ofZone.clear();
    known.set(timeZone, ofZone.set(day, offset));
  }
  return offset ?? askedOffset(ms, timeZone);
}

/** The moment at which UTC's clocks show what the zone's show at this one. */
export const shownThere = (at: Date, timeZone: string): Date =>
  new Date(at.getTime() + zoneOffset(at, timeZone));
