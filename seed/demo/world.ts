import { Temporal } from 'temporal-polyfill';
import { UUID } from 'uuidv7';
import { type Random, seededRandom } from '../../src/science/statistics/random.ts';
import { SITE } from './layout.ts';

/** Days of history; day 0 is the first, day DAYS is today. */
export const DAYS = 180;

/** The demo's time and chance: local clock times of numbered days, keys and random numbers that repeat themselves. */
export interface World {
  now: Date;
  /** The instant of a local clock time (hours, may be broken) on a day. */
  at(day: number, hours: number): Date;
  /** The local calendar day, "2026-11-24". */
  date(day: number): string;
  /** ISO weekday, 1 Monday to 7 Sunday. */
  weekday(day: number): number;
  /** A stream of chance for one subject, apart from all others. */
  random(subject: string): Random;
  /** A UUIDv7 of this time. */
  id(at: Date): string;
}

/** Opens the world of one seed and one "now"; the same two give the same world. */
export function openWorld(seed: number, now: Date): World {
  const today = Temporal.Instant.fromEpochMilliseconds(now.getTime()).toZonedDateTimeISO(SITE.timeZone);
  const dates = Array.from({ length: DAYS + 1 }, (_, day) =>
    today.toPlainDate().subtract({ days: DAYS - day }),
  );
  const noons = dates.map((date) => date.toZonedDateTime({ timeZone: SITE.timeZone, plainTime: '12:00' }));
  const at = (day: number, hours: number) =>
    new Date((noons[day]?.epochMilliseconds ?? Number.NaN) + Math.round((hours - 12) * 3600) * 1000);
  const keys = seededRandom(mix(seed, 'keys'));
  return {
    now,
    at,
    date: (day) => String(dates[day]),
    weekday: (day) => dates[day]?.dayOfWeek ?? Number.NaN,
    random: (subject) => seededRandom(mix(seed, subject)),
    id: (time) =>
      UUID.fromFieldsV7(
        time.getTime(),
        keys.below(2 ** 12),
        keys.below(2 ** 30),
        keys.below(2 ** 32),
      ).toString(),
  };
}

/** FNV-1a over the subject's name, on top of the seed. */
function mix(seed: number, subject: string): number {
  let hash = 0x811c9dc5 ^ seed;
  for (const character of subject) hash = Math.imul(hash ^ (character.codePointAt(0) ?? 0), 0x01000193);
  return hash >>> 0;
}
