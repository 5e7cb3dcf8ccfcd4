import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { openCount, progressOf } from './state.ts';

/** What is to be said of stocktakes today: one that is open, or that the next is due. */
export interface StocktakeNews {
  text: string;
  href: string;
}

const dueQuery = `
  SELECT routine.every_days AS "everyDays", routine.since,
         (SELECT max(closed_at) FROM stocktake WHERE stocktake.site_id = routine.site_id) AS "lastAt"
    FROM stocktake_routine AS routine WHERE routine.site_id = $1::uuid`;

/** A site's routine: how often it counts, when it last did, and when the next count is due. */
export interface RoutineState {
  everyDays: number;
  lastAt: Date | null;
  dueAt: Date;
}

/** The routine of a site; null where it has none. One query. */
export async function stocktakeRoutine(reader: SqlReader, siteId: string): Promise<RoutineState | null> {
  const { rows } = await reader.query<{ everyDays: number; since: Date; lastAt: Date | null }>(dueQuery, [
    siteId,
  ]);
  const [row] = rows;
  if (row === undefined) return null;
  const { everyDays, since, lastAt } = row;
  return { everyDays, lastAt, dueAt: daysAfter(lastAt ?? since, everyDays) };
}

/** The line on stocktakes; null where none is open and none is due. Three or four queries. */
export async function stocktakeNews(
  reader: SqlReader,
  site: { id: string; timeZone: string },
  now: Date,
): Promise<StocktakeNews | null> {
  const open = await openCount(reader, site.id);
  if (open !== null) {
    const { left, differ, all } = progressOf([...open.lots.values()].flat());
    const settle = differ === 0 ? '' : `, ${plural(differ, 'difference', 'differences')} to settle`;
    const counted =
      left === 0
        ? `all ${plural(all, 'lot', 'lots')} counted`
        : `${left} of ${plural(all, 'lot', 'lots')} to count`;
    return {
      text: `Stocktake “${open.stocktake.name}”: ${counted}${settle}`,
      href: `/stock/stocktakes/${open.stocktake.id}`,
    };
  }
  const routine = await stocktakeRoutine(reader, site.id);
  if (routine === null) return null;
  const late = calendarDaysBetween(localDay(routine.dueAt, site.timeZone), localDay(now, site.timeZone));
  if (late < 0) return null;
  const words = late === 0 ? 'due today' : `${plural(late, 'day', 'days')} overdue`;
  return { text: `A stocktake is ${words}`, href: '/stock/stocktakes' };
}
