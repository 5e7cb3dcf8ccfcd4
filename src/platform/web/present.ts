import type pg from 'pg';
import type { Role } from '../../generated/prisma/enums.ts';

/** Pumps of one place that are off. */
export interface PumpsOff {
  feedingId: string;
  /** "North hall, Tank 2". */
  place: string;
  /** When they should run again, ISO 8601. */
  dueAt: string;
}

/** Who asks, where, and how much is open: what every page shows around itself. */
export interface Present {
  person: { id: string; name: string; role: Role } | null;
  site: { id: string; name: string; timeZone: string } | null;
  counts: { now: number; today: number };
  /** Pumps that were switched off for a feeding, of which nobody has said that they run again; due first. */
  pumpsOff: PumpsOff[];
  /** False until the first owner exists: then only the first-run page is shown. */
  settled: boolean;
}

const query = `
  SELECT (SELECT json_build_object('id', id, 'name', name, 'role', role) FROM account
           WHERE id = $1 AND disabled_at IS NULL) AS person,
         (SELECT json_build_object('id', id, 'name', name, 'timeZone', time_zone) FROM site
           ORDER BY created_at, id LIMIT 1) AS site,
         EXISTS (SELECT 1 FROM account) AS settled,
         (SELECT json_build_object('now', count(*) FILTER (WHERE severity = 'now'),
                                   'today', count(*) FILTER (WHERE severity = 'today'))
            FROM alert WHERE cleared_at IS NULL AND cause_id IS NULL AND (put_off_until IS NULL OR put_off_until <= $2)) AS counts,
         (SELECT coalesce(json_agg(json_build_object('feedingId', feeding.id, 'place', concat_ws(', ', system.name, tank.name),
                                   'dueAt', feeding.at + make_interval(mins => feeding.pumps_off_min))
                                   ORDER BY feeding.at + make_interval(mins => feeding.pumps_off_min)), '[]')
            FROM feeding JOIN system ON system.id = feeding.system_id LEFT JOIN tank ON tank.id = feeding.tank_id
           WHERE feeding.pumps_off_min IS NOT NULL AND feeding.pumps_on_at IS NULL AND feeding.voided_at IS NULL
             AND system.site_id = (SELECT id FROM site ORDER BY created_at, id LIMIT 1)) AS "pumpsOff"`;

/** One query for what surrounds a page. */
export async function whoIsPresent(pool: pg.Pool, accountId: string | null, now: Date): Promise<Present> {
  const { rows } = await pool.query<Present>(query, [accountId, now]);
  const row = rows[0];
  if (row === undefined) throw new Error('the database gave no answer');
  return row;
}
