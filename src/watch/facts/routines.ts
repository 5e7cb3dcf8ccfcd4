import type pg from 'pg';
import { bySystem } from './by-system.ts';
import type { Span } from './history.ts';
import { dayOf, type RoutineFact } from './types.ts';

interface Row extends Omit<RoutineFact, 'words' | 'startsDay' | 'lastDay'> {
  systemId: string;
  quantityName: string | null;
  what: string | null;
  startsAt: Date;
  lastAt: Date | null;
}

// What counts as done: a test by hand that was not voided, any water change, a dose of the same quantity (or substance,
// where it names no quantity), a feeding of the same tank (of any, where either names none).
const query = `
  SELECT routine.id, routine.system_id AS "systemId", routine.work, routine.quantity_code AS "quantityCode",
         quantity.name AS "quantityName", coalesce(routine.detail ->> 'substance', routine.detail ->> 'food') AS what,
         routine.every_days AS "everyDays", routine.starts_on::timestamp AT TIME ZONE site.time_zone AS "startsAt", last.at AS "lastAt"
    FROM routine
    JOIN system ON system.id = routine.system_id JOIN site ON site.id = system.site_id
    LEFT JOIN quantity ON quantity.code = routine.quantity_code
    LEFT JOIN LATERAL (
      (SELECT reading.at FROM reading LEFT JOIN method ON method.id = reading.method_id
        WHERE routine.work = 'test' AND reading.system_id = routine.system_id AND reading.quantity_code = routine.quantity_code
          AND reading.at <= $2 AND reading.voided_at IS NULL AND reading.slot_id IS NULL AND method.every_minutes IS NULL
        ORDER BY reading.at DESC LIMIT 1)
      UNION ALL
      (SELECT at FROM water_change
        WHERE routine.work = 'water_change' AND system_id = routine.system_id AND at <= $2 AND voided_at IS NULL
        ORDER BY at DESC LIMIT 1)
      UNION ALL
      (SELECT at FROM dose
        WHERE routine.work = 'dose' AND system_id = routine.system_id AND at <= $2 AND voided_at IS NULL
          AND CASE WHEN routine.quantity_code IS NULL THEN substance = routine.detail ->> 'substance'
                   ELSE quantity_code = routine.quantity_code END
        ORDER BY at DESC LIMIT 1)
      UNION ALL
      (SELECT at FROM feeding
        WHERE routine.work = 'feeding' AND system_id = routine.system_id AND at <= $2 AND voided_at IS NULL
          AND (tank_id IS NULL OR routine.detail ->> 'tankId' IS NULL OR tank_id::text = routine.detail ->> 'tankId')
        ORDER BY at DESC LIMIT 1)) AS last ON true
   WHERE routine.system_id = ANY($1) AND routine.created_at <= $2 AND (routine.ended_at IS NULL OR routine.ended_at > $2)
   ORDER BY routine.created_at, routine.id`;

/** Recurring work that is not ended, with when it was last done, by system. */
export async function loadRoutines(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, RoutineFact[]>> {
  const { rows } = await pool.query<Row>(query, [systemIds, span.now]);
  return bySystem(rows, ({ startsAt, lastAt, quantityName, what, ...row }) => ({
    ...row,
    words: wordsOf(row.work, quantityName, what),
    startsDay: dayOf(startsAt),
    lastDay: lastAt === null ? null : dayOf(lastAt),
  }));
}

function wordsOf(work: RoutineFact['work'], quantity: string | null, what: string | null): string {
  if (work === 'test') return `${inSentence(quantity ?? '')} test`;
  if (work === 'water_change') return 'water change';
  if (work === 'dose') return `dose of ${what ?? inSentence(quantity ?? 'a supplement')}`;
  return what === null ? 'feeding' : `feeding of ${what}`;
}

/** "Alkalinity" within a sentence; "pH" and "ORP" stay as they are. */
const inSentence = (name: string) =>
  /^[A-Z][a-z]/.test(name) ? name.charAt(0).toLowerCase() + name.slice(1) : name;
