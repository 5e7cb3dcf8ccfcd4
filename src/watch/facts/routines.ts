import type pg from 'pg';
import { dayOf } from '../../science/numeric/time.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import type { Span } from '../../water/record/span.ts';
import { lastDoneJoin } from '../../water/routines/last-done.ts';
import type { RoutineFact } from './types.ts';

interface Row extends Omit<RoutineFact, 'words' | 'startsDay' | 'lastDay'> {
  systemId: string;
  quantityName: string | null;
  what: string | null;
  startsAt: Date;
  lastAt: Date | null;
}

const query = `
  SELECT routine.id, routine.system_id AS "systemId", routine.work, routine.quantity_code AS "quantityCode",
         quantity.name AS "quantityName", coalesce(routine.detail ->> 'substance', routine.detail ->> 'food') AS what,
         routine.every_days AS "everyDays", routine.weekdays, routine.starts_on::timestamp AT TIME ZONE site.time_zone AS "startsAt", last.at AS "lastAt"
    FROM routine
    JOIN system ON system.id = routine.system_id JOIN site ON site.id = system.site_id
    LEFT JOIN quantity ON quantity.code = routine.quantity_code
    ${lastDoneJoin}
   WHERE routine.system_id = ANY($1) AND routine.created_at <= $2 AND (routine.ended_at IS NULL OR routine.ended_at > $2)
   ORDER BY routine.created_at, routine.id`;

/** Recurring work that is not ended, with when it was last done, by system. */
export async function loadRoutines(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, RoutineFact[]>> {
  const { rows } = await pool.query<Row>(query, [systemIds, span.now]);
  return groupBySystem(rows, ({ startsAt, lastAt, quantityName, what, ...row }) => ({
    ...row,
    words: wordsOf(row.work, quantityName, what),
    startsDay: dayOf(startsAt),
    lastDay: lastAt === null ? null : dayOf(lastAt),
  }));
}

function wordsOf(work: RoutineFact['work'], quantity: string | null, what: string | null): string {
  if (work === 'test') return `${nameInSentence(quantity ?? '')} test`;
  if (work === 'water_change') return 'water change';
  if (work === 'dose') return `dose of ${what ?? nameInSentence(quantity ?? 'a supplement')}`;
  return what === null ? 'feeding' : `feeding of ${what}`;
}
