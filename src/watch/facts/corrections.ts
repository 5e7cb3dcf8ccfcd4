import type pg from 'pg';
import { dayOf } from '../../science/numeric/time.ts';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import { before, longestDays, type Span } from '../../water/record/span.ts';
import type { CorrectionFact } from './types.ts';

interface Row extends Omit<CorrectionFact, 'fromDay' | 'toDay' | 'steps'> {
  systemId: string;
  startsAt: Date;
  endedAt: Date | null;
  steps: { id: string; dueAt: string; expectedAfter: number; retest: boolean; doneAt: string | null }[];
}

const query = `
  SELECT correction.id, correction.system_id AS "systemId", correction.quantity_code AS "quantityCode", correction.substance,
         correction.starts_on::timestamp AT TIME ZONE site.time_zone AS "startsAt",
         CASE WHEN ended.at <= $3 THEN ended.at END AS "endedAt",
         correction.from_value AS "fromValue", correction.target_value AS target, correction.daily_cap AS "dailyCap",
         (SELECT coalesce(json_agg(json_build_object('id', step.id, 'dueAt', step.due_on::timestamp AT TIME ZONE site.time_zone,
                          'expectedAfter', step.expected_after, 'retest', step.retest,
                          'doneAt', CASE WHEN step.done_at <= $3 THEN step.done_at END) ORDER BY step.position), '[]')
            FROM correction_step AS step WHERE step.correction_id = correction.id
              AND (step.left_out_at IS NULL OR step.left_out_at > $3)) AS steps
    FROM correction
    JOIN system ON system.id = correction.system_id JOIN site ON site.id = system.site_id
   CROSS JOIN LATERAL (SELECT coalesce(correction.finished_at, correction.stopped_at) AS at) AS ended
   WHERE correction.system_id = ANY($1) AND correction.created_at <= $3 AND (ended.at IS NULL OR ended.at > $2)
   ORDER BY correction.created_at, correction.id`;

/** Corrections that run or ended within the longest history, with their steps, by system. */
export async function loadCorrections(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, CorrectionFact[]>> {
  const { rows } = await pool.query<Row>(query, [systemIds, before(span, longestDays), span.now]);
  return groupBySystem(rows, ({ startsAt, endedAt, steps, ...row }) => ({
    ...row,
    fromDay: dayOf(startsAt),
    toDay: endedAt === null ? null : dayOf(endedAt),
    steps: steps.map(({ dueAt, doneAt, ...step }) => ({
      ...step,
      dueDay: dayOf(new Date(dueAt)),
      doneDay: doneAt === null ? null : dayOf(new Date(doneAt)),
    })),
  }));
}
