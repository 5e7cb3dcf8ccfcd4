import type pg from 'pg';

/** How it stands with the broker, as the page tells it. */
export interface BrokerState {
  broker: string;
  connectedAt: Date | null;
  /** How long the broker keeps what comes while the service is away, s; null where it has not said. */
  keepsS: number | null;
  /** Why it is not connected, or what else fails, in words; empty where all goes well. */
  failure: string;
}

/** How it stood when last something changed; null where no broker was ever asked. */
export async function brokerState(pool: pg.Pool): Promise<BrokerState | null> {
  const { rows } = await pool.query<BrokerState>(
    `SELECT broker, connected_at AS "connectedAt", keeps_s AS "keepsS", failure FROM mqtt_connection`,
  );
  return rows[0] ?? null;
}

/** Keeps how it stands, for every instance's pages. */
export async function noteBrokerState(
  pool: pg.Pool,
  { broker, connectedAt, keepsS, failure }: BrokerState,
  now: Date,
): Promise<void> {
  await pool.query(
    `INSERT INTO mqtt_connection (id, broker, connected_at, keeps_s, failure, changed_at) VALUES (1, $1, $2, $3, $4, $5)
     ON CONFLICT (id) DO UPDATE SET broker = excluded.broker, connected_at = excluded.connected_at,
            keeps_s = coalesce(excluded.keeps_s, mqtt_connection.keeps_s), failure = excluded.failure, changed_at = excluded.changed_at`,
    [broker, connectedAt, keepsS, failure, now],
  );
}

/** Keeps why alerts do not go out on a connection that holds; empty where they do. */
export async function noteAlertFailure(pool: pg.Pool, failure: string): Promise<void> {
  await pool.query('UPDATE mqtt_connection SET failure = $1 WHERE connected_at IS NOT NULL', [failure]);
}

/** A filter to listen to; `gone` where no site wants it any longer. `withKept`: what the broker kept as last is wanted too. */
export interface Wanted {
  filter: string;
  gone: boolean;
  withKept: boolean;
}

const wanted = `
  SELECT filter, bool_and(removed_at IS NOT NULL) AS gone,
         coalesce(bool_or(payload = 'status') FILTER (WHERE removed_at IS NULL), false) AS "withKept"
    FROM mqtt_topic GROUP BY filter ORDER BY filter`;

/** What all sites together listen to. */
export async function wantedFilters(pool: pg.Pool): Promise<Wanted[]> {
  return (await pool.query<Wanted>(wanted)).rows;
}

/** The broker no longer gives a filter: its removed rows go. */
export async function forgetFilter(pool: pg.Pool, filter: string): Promise<void> {
  await pool.query('DELETE FROM mqtt_topic WHERE filter = $1 AND removed_at IS NOT NULL', [filter]);
}

/** Keeps why the broker does not give a filter; empty where it does. */
export async function noteRefusal(pool: pg.Pool, filter: string, refusal: string): Promise<void> {
  await pool.query('UPDATE mqtt_topic SET refusal = $2 WHERE filter = $1 AND refusal <> $2', [
    filter,
    refusal,
  ]);
}
