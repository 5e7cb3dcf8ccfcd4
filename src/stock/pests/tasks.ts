import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import { clockOfWatch, type DayTemperature } from './clock.rules.ts';
import { clearWords, treatmentWords } from './clock.words.ts';
import { pestOf } from './pests.rules.ts';
import { type WatchState, watchById, watchesOf } from './state.ts';
import { endWatch, noteLook } from './watches.ts';

/** The recorded temperature of each day of these systems, by system: water is above the stock, and hands it down. */
export type TemperaturesOf = (
  reader: SqlReader,
  systemIds: readonly string[],
  now: Date,
) => Promise<ReadonlyMap<string, readonly DayTemperature[]>>;

/** The days' temperatures of the waters that are watched, by system: none is read for a farm without pests. One query. */
export async function watchedTemperatures(
  reader: SqlReader,
  watches: readonly WatchState[],
  now: Date,
  temperaturesOf: TemperaturesOf,
): Promise<ReadonlyMap<string, readonly DayTemperature[]>> {
  const systemIds = [...new Set(watches.map(({ systemId }) => systemId))];
  return systemIds.length === 0 ? new Map() : temperaturesOf(reader, systemIds, now);
}

/** Looks for pests that are due, or were taken on the present day. Two queries. */
export async function pestTasks(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
  temperaturesOf: TemperaturesOf,
): Promise<DueTask[]> {
  const watches = await watchesOf(pool, systemIds, now);
  const days = await watchedTemperatures(pool, watches, now, temperaturesOf);
  return watches
    .map((watch) => taskOf(watch, days.get(watch.systemId) ?? [], now))
    .filter(({ done, overdueDays }) => done || overdueDays >= 0);
}

function taskOf(watch: WatchState, temperatures: readonly DayTemperature[], now: Date): DueTask {
  const { id, systemId, systemName, timeZone, tankName } = watch;
  const clock = clockOfWatch(watch, temperatures);
  const today = localDay(now, timeZone);
  const done = watch.looks.some(({ at }) => localDay(at, timeZone) === today);
  const dueOn = localDay(clock.nextLook, timeZone);
  const { name } = pestOf(watch.pest);
  return {
    key: `pest:${id}`,
    work: 'look',
    systemId,
    systemName,
    title: `Look for: ${name}${tankName && ` in ${tankName}`}`,
    detail: [
      'Look at every lot of this water with a lens, at bare skeleton and under mounts too.',
      'Tick it only if you found none. Note what you find on its lots, as “Pest”.',
      `Clear: ${clearWords(clock, timeZone, now)}.`,
      ...(watch.treatments.length === 0 ? [] : [`Next treatment: ${treatmentWords(clock, timeZone, now)}.`]),
    ],
    cautions: [],
    held: null,
    dueOn: done ? today : dueOn,
    overdueDays: done ? 0 : calendarDaysBetween(dueOn, today),
    done,
    href: `/stock/pests/${id}`,
  };
}

/**
 * A look at the whole water, with what was found. The second clean look past the cycle ends the watch.
 * @returns whether it ended
 * @throws Refusal 404; 409 where the watch has ended, or the pest was noted on lots within this look's day
 */
export async function lookForPest(
  work: Work,
  id: string,
  look: { at: Date; found: number; note: string },
  temperaturesOf: TemperaturesOf,
): Promise<{ systemId: string; what: string; ended: boolean }> {
  const reader = readerOf(work.tx);
  const before = await watchById(reader, id, work.now);
  refuseAfterSighting(before, look);
  const { systemId, pest } = await noteLook(work, id, look);
  const { name } = pestOf(pest);
  const what =
    look.found === 0 ? `Looked for: ${name}, none found` : `Looked for: ${name}, ${look.found} found`;
  const watch = await watchById(reader, id, work.now);
  const days = await temperaturesOf(reader, [systemId], work.now);
  const clear = watch !== null && clockOfWatch(watch, days.get(systemId) ?? []).clear;
  if (clear) await endWatch(work, id, 'Two clean looks past its cycle.');
  return { systemId, what, ended: clear };
}

function refuseAfterSighting(watch: WatchState | null, { at, found }: { at: Date; found: number }): void {
  if (watch === null || found > 0) return;
  const day = localDay(at, watch.timeZone);
  const seen = watch.sightings.find((one) => localDay(one.at, watch.timeZone) === day);
  if (seen !== undefined)
    throw new Refusal(
      `It was noted on ${seen.code} that day, so that look was not clean. Enter how many were found.`,
      {
        status: 409,
        field: 'found',
      },
    );
}
