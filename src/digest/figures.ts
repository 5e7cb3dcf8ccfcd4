import type pg from 'pg';
import { type Figure, secondsSince } from '../platform/metrics/figures.ts';

const letters = `
  SELECT count(*) FILTER (WHERE sent_at IS NULL AND given_up_at IS NULL)::int AS waiting,
         min(created_at) FILTER (WHERE sent_at IS NULL AND given_up_at IS NULL) AS oldest,
         count(*) FILTER (WHERE given_up_at > $1::timestamptz - interval '7 days')::int AS "givenUp", max(sent_at) AS sent
    FROM letter`;

interface Row {
  waiting: number;
  oldest: Date | null;
  givenUp: number;
  sent: Date | null;
}

/** Letters that wait for the mail server, that were given up, and when the last went. One query. */
export async function letterFigures(pool: pg.Pool, now: Date): Promise<Figure[]> {
  const { rows } = await pool.query<Row>(letters, [now]);
  const { waiting = 0, oldest = null, givenUp = 0, sent = null } = rows[0] ?? {};
  const one = (name: string, help: string, value: number | null): Figure => ({
    name,
    help,
    values: [{ value }],
  });
  return [
    one('letters_waiting', 'Letters that were not sent yet.', waiting),
    one(
      'letters_waiting_oldest_seconds',
      'How long the oldest of them has waited.',
      secondsSince(oldest, now) ?? 0,
    ),
    one('letters_given_up_7d', 'Letters given up in seven days.', givenUp),
    one('letters_last_sent_seconds', 'Since a letter was last sent.', secondsSince(sent, now)),
  ];
}
