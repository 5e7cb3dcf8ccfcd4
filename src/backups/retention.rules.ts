import { Temporal } from 'temporal-polyfill';
import { agoWords, whenWords } from '../platform/words/times.ts';

/** One kept backup. */
export interface Kept {
  id: string;
  madeAt: Date;
}

/** How long backups are kept (own choice): one a day for a week, one a week for a month, one a month for a year. */
export const kept = { days: 7, weeks: 4, months: 12 };

const dayOf = (at: Date, timeZone: string) =>
  Temporal.Instant.fromEpochMilliseconds(at.getTime()).toZonedDateTimeISO(timeZone).toPlainDate();

/** The newest of each period, for the newest `count` periods that have one. */
function newestOf(backups: readonly Kept[], count: number, periodOf: (at: Date) => string): string[] {
  const byPeriod = new Map<string, string>();
  for (const { id, madeAt } of backups) {
    const period = periodOf(madeAt);
    if (!byPeriod.has(period)) byPeriod.set(period, id);
  }
  return [...byPeriod.values()].slice(0, count);
}

/**
 * Which backups may be deleted: all but the newest of each of the last days, weeks (ISO 8601) and months that have one.
 * Periods without a backup do not count, so that a service that stood still for months loses nothing when it starts.
 */
export function outlived(backups: readonly Kept[], timeZone: string): string[] {
  const newestFirst = [...backups].sort((a, b) => b.madeAt.getTime() - a.madeAt.getTime());
  const day = (at: Date) => dayOf(at, timeZone).toString();
  const week = (at: Date) => {
    const date = dayOf(at, timeZone);
    return `${date.yearOfWeek}-${date.weekOfYear}`;
  };
  const month = (at: Date) => dayOf(at, timeZone).toPlainYearMonth().toString();
  const stays = new Set([
    ...newestOf(newestFirst, kept.days, day),
    ...newestOf(newestFirst, kept.weeks, week),
    ...newestOf(newestFirst, kept.months, month),
  ]);
  return newestFirst.filter(({ id }) => !stays.has(id)).map(({ id }) => id);
}

const hours = (ms: number) => ms / 3_600_000;
/** The farm is asleep, and a nightly power-saving machine mostly still on (own choice). */
const night = { from: 2, to: 5 };

/** The attempt before, when it was begun and whether it failed. */
export interface Attempt {
  at: Date;
  failed: boolean;
}

/** A backup that failed is tried again after this many hours (own choice): a full disk or a share may be back by then. */
const retryHours = 2;

/**
 * Whether the nightly backup is due: at night after most of a day, at any hour once the night was missed, and again some
 * hours after one that failed.
 */
export function isDue(last: Attempt | null, now: Date, timeZone: string): boolean {
  if (last === null) return true;
  const since = hours(now.getTime() - last.at.getTime());
  if (last.failed && since >= retryHours) return true;
  const { hour } = Temporal.Instant.fromEpochMilliseconds(now.getTime()).toZonedDateTimeISO(timeZone);
  const atNight = hour >= night.from && hour < night.to;
  return since < 0 || since >= (atNight ? 20 : 30);
}

/** After this long without a proven backup the digest and Today shout. */
export const lateAfterHours = 48;

/** How the farm is backed up now. */
export type BackupState =
  | { state: 'proven'; provenAt: Date }
  | { state: 'late'; provenAt: Date | null; fault: string | null };

/**
 * Judges the newest proven backup. A farm younger than two days is not late yet: it is `null`, nothing to say.
 * @param began when the farm was made, or the service began to make backups of it
 * @param fault what the newest attempt ended with, null where it went well or none was made
 */
export function backupState(
  { provenAt, began, fault }: { provenAt: Date | null; began: Date; fault: string | null },
  now: Date,
): BackupState | null {
  const since = hours(now.getTime() - (provenAt ?? began).getTime());
  if (since >= lateAfterHours) return { state: 'late', provenAt, fault };
  return provenAt === null ? null : { state: 'proven', provenAt };
}

/** The state in a sentence. */
export function backupWords(
  state: BackupState,
  { timeZone, now }: { timeZone: string; now: Date },
): { words: string; late: boolean } {
  if (state.state === 'proven')
    return {
      words: `The last proven backup was made ${agoWords(state.provenAt, timeZone, now)}.`,
      late: false,
    };
  const since =
    state.provenAt === null
      ? 'There is no proven backup yet.'
      : `There is no proven backup since ${whenWords(state.provenAt, timeZone, now)}.`;
  const why = state.fault === null ? '' : ` The last try failed: ${state.fault.replace(/\.?$/, '.')}`;
  return { words: `${since}${why}`, late: true };
}
