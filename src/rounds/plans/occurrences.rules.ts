import { Temporal } from 'temporal-polyfill';
import { addDays, localDay, momentOf } from '../../platform/days.ts';
import { hourMs } from '../../science/numeric/time.ts';

/** One local day on which a plan is not walked as usual. */
export interface DayChange {
  day: string;
  /** Not walked at all. */
  cancelled: boolean;
  /** Another time of day; null where it is the usual one. */
  startsAt: string | null;
  /** Why, in words. */
  note: string;
}

/** When a plan wants to be walked. */
export interface Schedule {
  /** Local time, "06:30". */
  startsAt: string;
  /** ISO weekdays, 1 Monday to 7 Sunday. */
  weekdays: readonly number[];
  /** From when the plan is as it is. */
  plannedSince: Date;
  pausedAt: Date | null;
  /** Days that are another way; one that is walked is walked whatever its weekday. */
  changes: readonly DayChange[];
}

/** One local day on which a plan was to be walked, and the moment it was due. */
export interface Occurrence {
  day: string;
  dueAt: Date;
}

/** The walk that was made of an occurrence. */
export interface Walked {
  startedAt: Date;
  finishedAt: Date | null;
}

/** `unfinished`: begun on a day that is over and never ended. */
export type RoundState = 'later' | 'due' | 'running' | 'unfinished' | 'finished' | 'missed';

/** A round may be begun or go on this long after midnight, so that a late evening round does not count as missed (own choice). */
const GRACE_HOURS = 6;
/** A round of the coming night can be begun this long before its time (own choice). */
const AHEAD_HOURS = 6;

/**
 * What a plan asked for from `daysBack` days ago until today, and for the hours after the coming midnight, oldest first.
 * Today's is there even on a plan of today.
 */
export function occurrencesOf(
  schedule: Schedule,
  timeZone: string,
  now: Date,
  daysBack: number,
): Occurrence[] {
  const today = Temporal.PlainDate.from(localDay(now, timeZone));
  return Array.from({ length: daysBack + 2 }, (_, i) => today.subtract({ days: daysBack - i }))
    .filter((day) => isWalkedOn(schedule, day))
    .map((day) => occurrenceOn(schedule, String(day), timeZone))
    .filter(({ day, dueAt }) => day <= String(today) || isSoon(dueAt, now))
    .filter(({ day, dueAt }) => dueAt >= schedule.plannedSince || day >= String(today))
    .filter(({ dueAt }) => schedule.pausedAt === null || dueAt < schedule.pausedAt);
}

const changeOf = (schedule: Pick<Schedule, 'changes'>, day: string) =>
  schedule.changes.find((change) => change.day === day);

function isWalkedOn(schedule: Schedule, day: Temporal.PlainDate): boolean {
  const change = changeOf(schedule, String(day));
  return change === undefined ? schedule.weekdays.includes(day.dayOfWeek) : !change.cancelled;
}

/** The moment a plan is due on a local day, at that day's own time if it has one. */
export function occurrenceOn(
  schedule: Pick<Schedule, 'startsAt' | 'changes'>,
  day: string,
  timeZone: string,
): Occurrence {
  const time = changeOf(schedule, day)?.startsAt ?? schedule.startsAt;
  return { day, dueAt: momentOf(day, time, timeZone) };
}

const isSoon = (dueAt: Date, now: Date) => dueAt.getTime() - now.getTime() <= AHEAD_HOURS * hourMs;

/** The moment from which an occurrence that nobody began is missed: its day is over, and some hours have passed. */
export function missedFrom({ day, dueAt }: Occurrence, timeZone: string): Date {
  const next = addDays(day, 1);
  const midnight = momentOf(next, '00:00', timeZone);
  return new Date(Math.max(midnight.getTime(), dueAt.getTime() + GRACE_HOURS * hourMs));
}

/** How one occurrence stands. */
export function stateOf(
  occurrence: Occurrence,
  walked: Walked | null,
  timeZone: string,
  now: Date,
): RoundState {
  const over = now >= missedFrom(occurrence, timeZone);
  if (walked === null) return over ? 'missed' : now < occurrence.dueAt ? 'later' : 'due';
  if (walked.finishedAt !== null) return 'finished';
  const longAgo = now.getTime() - walked.startedAt.getTime() > GRACE_HOURS * hourMs;
  return over && longAgo ? 'unfinished' : 'running';
}

/** Why a round of this day cannot be begun now, or null when it can: today's, one of the coming night, or one that is late but not missed. */
export function whyNotBegun(schedule: Schedule, day: string, timeZone: string, now: Date): string | null {
  const today = localDay(now, timeZone);
  const occurrence = occurrenceOn(schedule, day, timeZone);
  if (day > today && !isSoon(occurrence.dueAt, now))
    return 'That round is for another day. Start it on that day.';
  if (changeOf(schedule, day)?.cancelled)
    return 'That round is not walked on this day. The manager can plan it again.';
  if (now >= missedFrom(occurrence, timeZone))
    return 'The day of that round is over. Start the round of today instead.';
  if (schedule.pausedAt !== null) return 'This round is paused. Ask the manager to start it again.';
  return null;
}
