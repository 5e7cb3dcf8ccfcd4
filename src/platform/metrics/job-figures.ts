import type pg from 'pg';
import type { Figure } from './figures.ts';

interface Row {
  name: string;
  waiting: number;
  oldest: number | null;
  active: number;
  failed: number;
  lastDone: number | null;
  lastTook: number | null;
}

const jobs = `
  SELECT queue.name, count(*) FILTER (WHERE state IN ('created', 'retry') AND start_after <= now())::int AS waiting,
         extract(epoch FROM now() - min(start_after) FILTER (WHERE state IN ('created', 'retry') AND start_after <= now()))::float8 AS oldest,
         count(*) FILTER (WHERE state = 'active')::int AS active,
         count(*) FILTER (WHERE state = 'failed')::int AS failed,
         extract(epoch FROM now() - max(completed_on) FILTER (WHERE state = 'completed'))::float8 AS "lastDone",
         (array_agg(extract(epoch FROM completed_on - started_on)::float8 ORDER BY completed_on DESC) FILTER (WHERE state = 'completed'))[1] AS "lastTook"
    FROM pgboss.queue LEFT JOIN pgboss.job ON job.name = queue.name
   WHERE queue.name NOT LIKE '\\_\\_%' GROUP BY queue.name ORDER BY queue.name`;

/** Jobs by their queue, the evaluation of rules among them: what waits and how long, what failed, when the last was done. One query. */
export async function jobFigures(pool: pg.Pool): Promise<Figure[]> {
  const { rows } = await pool.query<Row>(jobs);
  const figure = (name: string, help: string, of: (row: Row) => number | null): Figure => ({
    name,
    help,
    values: rows.map((row) => ({ labels: { queue: row.name }, value: of(row) })),
  });
  return [
    figure('jobs_waiting', 'Jobs that are due and not begun.', ({ waiting }) => waiting),
    figure(
      'jobs_waiting_oldest_seconds',
      'How long the oldest of them has been due.',
      ({ oldest }) => oldest ?? 0,
    ),
    figure('jobs_active', 'Jobs being worked on.', ({ active }) => active),
    figure('jobs_failed', 'Jobs that failed for good, as long as they are kept.', ({ failed }) => failed),
    figure('jobs_last_done_seconds', 'Since the last job of the queue was done.', ({ lastDone }) => lastDone),
    figure('jobs_last_took_seconds', 'How long the last job of the queue took.', ({ lastTook }) => lastTook),
  ];
}
