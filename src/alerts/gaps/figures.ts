import type pg from 'pg';
import { type Figure, secondsSince } from '../../platform/metrics/figures.ts';

const watched = `
  SELECT min(coalesce(watch.judged_at, system.created_at)) AS longest, coalesce(sum(cardinality(watch.broken)), 0)::int AS broken
    FROM system LEFT JOIN system_watch AS watch ON watch.system_id = system.id WHERE system.retired_at IS NULL`;

/** How long the watch has not looked at the system that waits longest, and how many of its rules broke. One query. */
export async function watchFigures(pool: pg.Pool, now: Date): Promise<Figure[]> {
  const { rows } = await pool.query<{ longest: Date | null; broken: number }>(watched);
  return [
    {
      name: 'watch_longest_unjudged_seconds',
      help: 'Since the watch last judged the system that waits longest; each is judged once an hour.',
      values: [{ value: secondsSince(rows[0]?.longest, now) }],
    },
    {
      name: 'watch_rules_broken',
      help: 'Rules that broke where they last judged a system, summed over systems.',
      values: [{ value: rows[0]?.broken ?? 0 }],
    },
  ];
}
