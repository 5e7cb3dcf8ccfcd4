import type pg from 'pg';
import type { Role } from '../../generated/prisma/enums.ts';

/** Who asks, where, and how much is open: what every page shows around itself. */
export interface Present {
  person: { id: string; name: string; role: Role } | null;
  site: { id: string; name: string; timeZone: string } | null;
  counts: { now: number; today: number };
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
            FROM alert WHERE cleared_at IS NULL AND cause_id IS NULL AND (put_off_until IS NULL OR put_off_until <= $2)) AS counts`;

/** One query for what surrounds a page. */
export async function whoIsPresent(pool: pg.Pool, accountId: string | null, now: Date): Promise<Present> {
  const { rows } = await pool.query<Present>(query, [accountId, now]);
  const row = rows[0];
  if (row === undefined) throw new Error('the database gave no answer');
  return row;
}
