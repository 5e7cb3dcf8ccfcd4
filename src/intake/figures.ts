import type pg from 'pg';
import { type Figure, secondsSince } from '../platform/metrics/figures.ts';

// A day of probes is counted in UTC.
const intake = `
  SELECT (SELECT coalesce(sum(taken), 0)::int FROM probe_day WHERE day = ($1::timestamptz AT TIME ZONE 'UTC')::date) AS taken,
         (SELECT coalesce(sum(rejected), 0)::int FROM probe_day WHERE day = ($1::timestamptz AT TIME ZONE 'UTC')::date) AS refused,
         (SELECT count(*)::int FROM mqtt_message WHERE read_at IS NULL) AS waiting,
         (SELECT min(arrived_at) FROM mqtt_message WHERE read_at IS NULL) AS oldest,
         (SELECT coalesce(sum(times), 0)::int FROM mqtt_unread) AS unread,
         (SELECT count(*)::int FROM mqtt_heard WHERE silent_since IS NOT NULL) AS silent,
         (SELECT count(connected_at)::int FROM mqtt_connection) AS connected`;

interface Row {
  taken: number;
  refused: number;
  waiting: number;
  oldest: Date | null;
  unread: number;
  silent: number;
  connected: number;
}

/**
 * What probes sent today, and how it stands with the broker. One query.
 * @param hasBroker whether one is set; without it nothing is told of it
 */
export async function intakeFigures(pool: pg.Pool, now: Date, hasBroker: boolean): Promise<Figure[]> {
  const [row] = (await pool.query<Row>(intake, [now])).rows;
  const of = (name: string, help: string, value: number | null = null): Figure => ({
    name,
    help,
    values: [{ value }],
  });
  const values: Figure = {
    name: 'probe_values_today',
    help: 'Values of probes of this day (UTC): taken, or refused as impossible.',
    values: [
      { labels: { result: 'taken' }, value: row?.taken ?? 0 },
      { labels: { result: 'refused' }, value: row?.refused ?? 0 },
    ],
  };
  if (!hasBroker) return [values];
  return [
    values,
    of('mqtt_connected', '1 where an instance is connected to the broker.', row?.connected),
    of('mqtt_messages_waiting', 'Messages that are kept and not read yet.', row?.waiting),
    of(
      'mqtt_messages_waiting_oldest_seconds',
      'How long the oldest has waited.',
      secondsSince(row?.oldest, now) ?? 0,
    ),
    of('mqtt_unread', 'Messages that could not be read, in 30 days.', row?.unread),
    of('mqtt_silent_devices', 'Devices that are silent by their last will.', row?.silent),
  ];
}
