import type pg from 'pg';
import { type Figure, secondsSince } from '../platform/metrics/figures.ts';

const last = `SELECT max(proven_at) AS proven, max(failed_at) AS failed FROM backup`;

/** How long ago a backup was last proven, and one last failed. One query. */
export async function backupFigures(pool: pg.Pool, now: Date): Promise<Figure[]> {
  const { rows } = await pool.query<{ proven: Date | null; failed: Date | null }>(last);
  const [times] = rows;
  return [
    {
      name: 'backup_last_proven_seconds',
      help: 'Since a backup was last restored beside the farm and found whole.',
      values: [{ value: secondsSince(times?.proven, now) }],
    },
    {
      name: 'backup_last_failed_seconds',
      help: 'Since a backup last failed.',
      values: [{ value: secondsSince(times?.failed, now) }],
    },
  ];
}
