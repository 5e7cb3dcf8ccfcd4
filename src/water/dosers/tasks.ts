import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { daysAfter } from '../../science/numeric/time.ts';

interface Row {
  id: string;
  name: string;
  systemId: string;
  systemName: string;
  timeZone: string;
  at: Date;
  againDays: number;
  mlPer: number;
  per: string;
}

const query = `
  SELECT DISTINCT ON (equipment.id) equipment.id, equipment.name, system.id AS "systemId", system.name AS "systemName", site.time_zone AS "timeZone",
         one.at, one.again_days AS "againDays", one.ml / one.runs AS "mlPer", one.per
    FROM doser_calibration AS one JOIN equipment ON equipment.id = one.equipment_id AND equipment.removed_at IS NULL
    JOIN system ON system.id = equipment.system_id JOIN site ON site.id = system.site_id
   WHERE system.id = ANY($1) AND one.at <= $2
   ORDER BY equipment.id, one.at DESC`;

/** Dosers whose calibration is due again, or was done on the present day. One query. */
export async function calibrationTasks(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<DueTask[]> {
  const { rows } = await pool.query<Row>(query, [systemIds, now]);
  return rows
    .flatMap((row) => (row.againDays === null ? [] : [taskOf(row, now)]))
    .filter(({ done, overdueDays }) => done || overdueDays >= 0);
}

function taskOf(
  { id, name, systemId, systemName, timeZone, at, againDays, mlPer, per }: Row,
  now: Date,
): DueTask {
  const today = localDay(now, timeZone);
  const done = localDay(at, timeZone) === today;
  const dueOn = done ? today : localDay(daysAfter(at, againDays), timeZone);
  return {
    ...{ systemId, systemName, dueOn, done },
    key: `calibration:${id}`,
    work: 'service',
    title: `Measure what ${name} gives`,
    detail: [
      'Let it run into a measuring cylinder, and write the mL on its page.',
      `Last: ${numberWords(mlPer, 2)} mL a ${per}.`,
    ],
    cautions: [],
    held: 'Enter the mL that came out on its page.',
    overdueDays: done ? 0 : calendarDaysBetween(dueOn, today),
    href: `/water/dosers/${id}`,
  };
}
