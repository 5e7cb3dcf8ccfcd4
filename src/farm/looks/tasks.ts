import type pg from 'pg';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { timeWords } from '../../platform/words/times.ts';
import type { DueTask } from '../tasks/due-task.ts';

interface Row {
  id: string;
  systemId: string;
  systemName: string;
  timeZone: string;
  title: string;
  detail: string;
  href: string;
  dueAt: Date;
  doneAt: Date | null;
}

// Until the end of the day on which it is done; while something is wrong its own page asks for the look.
const query = `
  SELECT look.id, look.system_id AS "systemId", system.name AS "systemName", site.time_zone AS "timeZone", look.title,
         look.detail, look.href, look.due_at AS "dueAt", look.done_at AS "doneAt"
    FROM look JOIN system ON system.id = look.system_id JOIN site ON site.id = system.site_id
   WHERE look.system_id = ANY($1) AND NOT look.urgent AND look.due_at < $2::timestamptz + interval '1 day'
     AND (look.done_at IS NULL OR look.done_at > $2::timestamptz - interval '1 day')
   ORDER BY look.due_at, look.id`;

/** Looks after something was wrong, as due work of their day. One query. */
export async function lookTasks(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  const { rows } = await pool.query<Row>(query, [systemIds, now]);
  return rows.map((row) => taskOf(row, now)).filter(({ done, overdueDays }) => done || overdueDays >= 0);
}

function taskOf({ id, timeZone, title, detail, dueAt, doneAt, ...rest }: Row, now: Date): DueTask {
  const today = localDay(now, timeZone);
  const done = doneAt !== null && localDay(doneAt, timeZone) === today;
  const gone = doneAt !== null && !done;
  const dueOn = localDay(dueAt, timeZone);
  return {
    ...rest,
    key: `look:${id}`,
    work: 'look',
    title: `${title}, at ${timeWords(dueAt, timeZone)}`,
    detail: detail === '' ? [] : [detail],
    cautions: [],
    held: null,
    dueOn: done ? today : dueOn,
    overdueDays: done ? 0 : gone ? -1 : calendarDaysBetween(dueOn, today),
    done,
  };
}
