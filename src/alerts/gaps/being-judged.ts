import type pg from 'pg';
import { evaluationQueue } from '../../platform/change.ts';

/** What waits longer than this is a watch that stands still, which is told by itself; minutes, own choice. */
const fresh = 5;

const waiting = `
  SELECT EXISTS (SELECT FROM pgboss.job
                  WHERE name = '${evaluationQueue}' AND state < 'completed' AND data ->> 'systemId' = $1 AND start_after <= now()
                    AND start_after > now() - interval '${fresh} minutes') AS is`;

/** Whether something was entered of a system that the watch has not judged yet: its alerts are from before. One query. */
export async function isBeingJudged(pool: pg.Pool, systemId: string): Promise<boolean> {
  const { rows } = await pool.query<{ is: boolean }>(waiting, [systemId]);
  return rows[0]?.is ?? false;
}
