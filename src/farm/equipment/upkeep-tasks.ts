import type pg from 'pg';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import type { DueTask } from '../tasks/due-task.ts';

interface Row {
  kind: 'service' | 'test' | 'circuit';
  id: string;
  name: string;
  systemId: string;
  systemName: string;
  timeZone: string;
  everyDays: number;
  since: Date;
  lastAt: Date | null;
}

// A circuit's test is asked for in each system with something on it, until it is done once.
const query = `
  SELECT asked.*, system.name AS "systemName", site.time_zone AS "timeZone" FROM (
    SELECT 'service' AS kind, id, name, system_id AS "systemId", service_every_days AS "everyDays", created_at AS since,
           (SELECT max(at) FROM upkeep WHERE equipment_id = equipment.id AND work = 'service' AND at <= $2) AS "lastAt"
      FROM equipment WHERE service_every_days IS NOT NULL AND removed_at IS NULL
     UNION ALL
    SELECT 'test', id, name, system_id, test_every_days, created_at,
           (SELECT max(at) FROM upkeep WHERE equipment_id = equipment.id AND work = 'test' AND at <= $2)
      FROM equipment WHERE test_every_days IS NOT NULL AND removed_at IS NULL
     UNION ALL
    SELECT DISTINCT 'circuit', circuit.id, circuit.name, equipment.system_id, circuit.test_every_days, circuit.created_at,
           (SELECT max(at) FROM upkeep WHERE upkeep.circuit_id = circuit.id AND at <= $2)
      FROM circuit JOIN equipment ON equipment.circuit_id = circuit.id AND equipment.removed_at IS NULL
     WHERE circuit.test_every_days IS NOT NULL AND circuit.removed_at IS NULL) AS asked
    JOIN system ON system.id = asked."systemId" JOIN site ON site.id = system.site_id
   WHERE system.id = ANY($1) ORDER BY asked.name, asked.id`;

/** Services and safety tests of equipment that are due, or were done on the present day. One query. */
export async function upkeepTasks(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<DueTask[]> {
  const { rows } = await pool.query<Row>(query, [systemIds, now]);
  return rows.map((row) => taskOf(row, now)).filter((task) => task.done || task.overdueDays >= 0);
}

const titles: Readonly<Record<Row['kind'], (name: string) => string>> = {
  service: (name) => `Service ${name}`,
  test: (name) => `Test ${name}`,
  circuit: (name) => `Test the protection of ${name}`,
};

const ways: Readonly<Record<Row['kind'], string>> = {
  service: 'Unplug it before hands or tools go in, and see it running afterwards.',
  test: 'Lift it by hand and see that it stops what it should stop.',
  circuit:
    'Press the test button, see that everything on it stops, switch on again, and see each device running.',
};

function taskOf({ kind, id, name, everyDays, since, lastAt, timeZone, ...system }: Row, now: Date): DueTask {
  const today = localDay(now, timeZone);
  const dueOn = localDay(daysAfter(lastAt ?? since, everyDays), timeZone);
  const done = lastAt !== null && localDay(lastAt, timeZone) === today;
  return {
    ...system,
    key: `${kind}:${id}`,
    work: kind === 'service' ? 'service' : 'safety_check',
    title: titles[kind](name),
    detail: [ways[kind]],
    cautions: [],
    held: null,
    dueOn: done ? today : dueOn,
    overdueDays: done ? 0 : calendarDaysBetween(dueOn, today),
    done,
    href: kind === 'circuit' ? `/farm/circuits/${id}` : `/farm/equipment/${id}`,
  };
}
