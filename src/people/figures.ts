import type pg from 'pg';
import type { Figure } from '../platform/metrics/figures.ts';

const signIns = `
  SELECT count(*) FILTER (WHERE kind = 'sign_in.made')::int AS made, count(*) FILTER (WHERE kind = 'sign_in.failed')::int AS failed
    FROM journal_line WHERE at > $1::timestamptz - interval '24 hours' AND kind IN ('sign_in.made', 'sign_in.failed')`;

/** Sign-ins of the last 24 hours, and those that failed. One query. */
export async function signInFigures(pool: pg.Pool, now: Date): Promise<Figure[]> {
  const { rows } = await pool.query<{ made: number; failed: number }>(signIns, [now]);
  const values = [
    { labels: { result: 'made' }, value: rows[0]?.made ?? 0 },
    { labels: { result: 'failed' }, value: rows[0]?.failed ?? 0 },
  ];
  return [{ name: 'sign_ins_24h', help: 'Sign-ins of the last 24 hours by what came of them.', values }];
}
