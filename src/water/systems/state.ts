import type pg from 'pg';
import type { SystemState } from './state.rules.ts';

// Temperature, pH and salinity are mostly a probe's: they do not count as the water tested.
const stateQuery = `
  SELECT system.id, system.name,
         (SELECT count(*)::int FROM open_alert WHERE system_id = system.id AND cause_id IS NULL
             AND (put_off_until IS NULL OR put_off_until <= $3)) AS alerts,
         coalesce((SELECT array_agg(put_off_until ORDER BY put_off_until) FROM open_alert
                    WHERE system_id = system.id AND cause_id IS NULL AND put_off_until > $3), '{}') AS "putOff",
         (SELECT max(last.at) FROM unnest('{alkalinity,calcium,magnesium,nitrate,phosphate,ammonia,nitrite}'::text[]) AS tested(code)
            JOIN LATERAL (SELECT at FROM reading_with_vote AS reading WHERE reading.system_id = system.id AND quantity_code = tested.code
                             AND voided_at IS NULL AND trust <> 'refuted' AND at <= $3 ORDER BY at DESC LIMIT 1) AS last ON true) AS tested,
         coalesce((SELECT true FROM reading WHERE reading.system_id = system.id AND voided_at IS NULL AND trust <> 'refuted' AND at <= $3
                    ORDER BY quantity_code, at LIMIT 1), false) AS read,
         coalesce((SELECT json_agg(json_build_object('name', quantity.name, 'at', last.at) ORDER BY quantity.position, quantity.code)
            FROM system_quantity AS kept JOIN quantity ON quantity.code = kept.quantity_code
            LEFT JOIN LATERAL (SELECT at FROM reading_with_vote AS reading WHERE reading.system_id = system.id AND quantity_code = kept.quantity_code
                             AND voided_at IS NULL AND trust <> 'refuted' AND at <= $3 ORDER BY at DESC LIMIT 1) AS last ON true
           WHERE kept.system_id = system.id AND (kept.band_low IS NOT NULL OR kept.band_high IS NOT NULL)
             AND kept.quantity_code IN ('alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate')), '[]') AS tests
    FROM system
   WHERE system.retired_at IS NULL AND ($1::uuid IS NULL OR system.site_id = $1) AND ($2::uuid[] IS NULL OR system.id = ANY($2))
   ORDER BY system.position, system.name`;

type StateRow = Omit<SystemState, 'tests'> & { tests: { name: string; at: string | null }[] };

/** How the systems of a site, or some systems, stand, in their order. One query. */
export async function systemStates(
  pool: pg.Pool,
  { siteId = null, systemIds = null }: { siteId?: string | null; systemIds?: readonly string[] | null },
  now: Date,
): Promise<SystemState[]> {
  const { rows } = await pool.query<StateRow>(stateQuery, [siteId, systemIds, now]);
  return rows.map(({ tests, ...row }) => ({
    ...row,
    tests: tests.map(({ name, at }) => ({ name, at: at === null ? null : new Date(at) })),
  }));
}
