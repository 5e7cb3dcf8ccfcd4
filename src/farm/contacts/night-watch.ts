import { localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { listOnCall } from './contacts.ts';

/** The field in which somebody is named who comes or looks where nobody is on call. */
export const watcherField = 'watcher';

/** From this hour of a local day on, and before that one, nobody is taken to be there; own choice. */
const night = { from: 22, until: 6 };

/** Whether a time ends at night or on another day than it began, by the site's clock. */
export function reachesNight(from: Date, to: Date, timeZone: string): boolean {
  const hour = new Intl.DateTimeFormat('en-GB', { timeZone, hour: 'numeric', hourCycle: 'h23' });
  const end = Number(hour.format(to));
  return localDay(from, timeZone) !== localDay(to, timeZone) || end >= night.from || end < night.until;
}

/**
 * Where something acute is left overnight somebody has to come if it gets worse: who is on call, or who is named here.
 * Gives why it can wait with the name that was given.
 * @throws Refusal 422 on the field of the name, when nobody is on call at the site and none was given
 */
export async function leftOvernight(
  db: Reader,
  siteId: string,
  { why, watcher }: { why: string; watcher: string },
): Promise<string> {
  if (watcher !== '') return `${why}; who comes or looks next: ${watcher}`;
  if ((await listOnCall(db, siteId)).length > 0) return why;
  throw new Refusal(
    'Nobody is on call, and this can do harm overnight. Say who comes if it gets worse, or when somebody looks next.',
    { field: watcherField },
  );
}
