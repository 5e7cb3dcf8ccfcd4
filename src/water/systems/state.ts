import type pg from 'pg';
import { stillAfterMs } from '../../alerts/gaps/gaps.rules.ts';
import type { SystemState } from './state.rules.ts';

// Temperature, pH and salinity are mostly a probe's: they do not count as the water tested.
const stateQuery = `
  WITH chosen AS MATERIALIZED (
    SELECT id, name, position, created_at FROM system
     WHERE retired_at IS NULL AND ($1::uuid IS NULL OR site_id = $1) AND ($2::uuid[] IS NULL OR id = ANY($2))),
  newest AS MATERIALIZED (
    SELECT chosen.id AS system_id, tested.code, last.at
      FROM chosen CROSS JOIN unnest('{alkalinity,calcium,magnesium,nitrate,phosphate,ammonia,nitrite}'::text[]) AS tested(code)
      JOIN LATERAL (SELECT at FROM reading_with_vote AS reading WHERE reading.system_id = chosen.id AND quantity_code = tested.code
                       AND voided_at IS NULL AND trust <> 'refuted' AND at <= $3 ORDER BY at DESC LIMIT 1) AS last ON true),
  tested AS (SELECT system_id, max(at) AS at FROM newest GROUP BY system_id),
  kept AS (
    SELECT kept.system_id, json_agg(json_build_object('name', quantity.name, 'at', newest.at) ORDER BY quantity.position, quantity.code) AS tests
      FROM chosen JOIN system_quantity AS kept ON kept.system_id = chosen.id JOIN quantity ON quantity.code = kept.quantity_code
      LEFT JOIN newest ON newest.system_id = kept.system_id AND newest.code = kept.quantity_code
     WHERE (kept.band_low IS NOT NULL OR kept.band_high IS NOT NULL)
       AND kept.quantity_code IN ('alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate')
     GROUP BY kept.system_id)
  SELECT system.id, system.name,
         CASE WHEN watch.system_id IS NOT NULL OR system.created_at < $4
              THEN json_build_object('judgedAt', watch.judged_at, 'broken', coalesce(cardinality(watch.broken), 0)) END AS watch,
         (SELECT count(*)::int FROM open_alert WHERE system_id = system.id AND cause_id IS NULL
             AND (put_off_until IS NULL OR put_off_until <= $3)) AS alerts,
         coalesce((SELECT array_agg(put_off_until ORDER BY put_off_until) FROM open_alert
                    WHERE system_id = system.id AND cause_id IS NULL AND put_off_until > $3), '{}') AS "putOff",
         tested.at AS tested,
         coalesce((SELECT true FROM reading WHERE reading.system_id = system.id AND voided_at IS NULL AND trust <> 'refuted' AND at <= $3
                    ORDER BY quantity_code, at LIMIT 1), false) AS read,
         coalesce(kept.tests, '[]') AS tests
    FROM chosen AS system LEFT JOIN system_watch AS watch ON watch.system_id = system.id
    LEFT JOIN tested ON tested.system_id = system.id LEFT JOIN kept ON kept.system_id = system.id
   ORDER BY system.position, system.name`;

interface StateRow extends Omit<SystemState, 'tests' | 'watch'> {
  tests: { name: string; at: string | null }[];
  watch: { judgedAt: string | null; broken: number } | null;
}

const dateOf = (at: string | null): Date | null => (at === null ? null : new Date(at));

/** How the systems of a site, or some systems, stand, in their order. One query. */
export async function systemStates(
  pool: pg.Pool,
  { siteId = null, systemIds = null }: { siteId?: string | null; systemIds?: readonly string[] | null },
  now: Date,
): Promise<SystemState[]> {
  const { rows } = await pool.query<StateRow>(stateQuery, [
    siteId,
    systemIds,
    now,
    new Date(now.getTime() - stillAfterMs),
  ]);
  return rows.map(({ tests, watch, ...row }) => ({
    ...row,
    watch: watch && { ...watch, judgedAt: dateOf(watch.judgedAt) },
    tests: tests.map(({ name, at }) => ({ name, at: dateOf(at) })),
  }));
}
