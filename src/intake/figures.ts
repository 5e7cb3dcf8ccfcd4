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
         (SELECT count(connected_at)::int FROM mqtt_connection) AS connected,
         (SELECT count(*)::int FROM webhook_delivery WHERE delivered_at IS NULL AND given_up_at IS NULL) AS "hooksWaiting",
         (SELECT count(*)::int FROM webhook_delivery WHERE given_up_at IS NOT NULL) AS "hooksLost"`;

interface Row {
  taken: number;
  refused: number;
  waiting: number;
  oldest: Date | null;
  unread: number;
  silent: number;
  connected: number;
  hooksWaiting: number;
  hooksLost: number;
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
  const hooks = [
    of('webhooks_waiting', 'Deliveries of webhooks that wait or are tried again.', row?.hooksWaiting),
    of('webhooks_not_delivered', 'Deliveries of webhooks that were given up, in 30 days.', row?.hooksLost),
  ];
  if (!hasBroker) return [values, ...hooks];
  return [
    values,
    ...hooks,
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
