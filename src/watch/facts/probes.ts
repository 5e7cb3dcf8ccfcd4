import type pg from 'pg';
import { silentDevices } from '../../intake/mqtt/devices.ts';
import { dayMs, dayOf } from '../../science/numeric/time.ts';
import { newestOfKit } from '../../water/readings/newest-of-kit.ts';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import type { Span } from '../../water/record/span.ts';
import type { ProbeFact, SilentDeviceFact } from './types.ts';

const shownMs = 2 * dayMs;
const mostSamples = 600;

interface Row extends Omit<ProbeFact, 'lastDay' | 'samples'> {
  systemId: string;
  lastAt: Date;
  times: number[];
  values: number[];
}

// A probe stands in the system of its last report. Thinned evenly from the newest backwards.
// Only of what ever reported there: of other probes not even the last value is looked for.
const query = `
  WITH heard AS MATERIALIZED (
    SELECT kit.id FROM kit JOIN method ON method.id = kit.method_id AND method.every_minutes IS NOT NULL
     WHERE kit.retired_at IS NULL AND EXISTS (SELECT FROM reading WHERE kit_id = kit.id AND system_id = ANY($1)))
  SELECT last.system_id AS "systemId", kit.id AS "kitId", kit.label, method.quantity_code AS "quantityCode",
         method.every_minutes AS "everyMinutes", last.uncertainty AS u, last.at AS "lastAt",
         counted.taken, counted.rejected,
         coalesce(recent.times, '{}') AS times, coalesce(recent.values, '{}') AS values
    FROM heard
    JOIN kit ON kit.id = heard.id
    JOIN method ON method.id = kit.method_id
    JOIN LATERAL (${newestOfKit('kit.id', 'reading.system_id, at, uncertainty', 'at <= $3 AND voided_at IS NULL AND slot_id IS NULL')}) AS last ON true
    CROSS JOIN LATERAL (
      SELECT coalesce(sum(probe_day.taken), 0)::int AS taken, coalesce(sum(probe_day.rejected), 0)::int AS rejected
        FROM probe_name JOIN probe_day ON probe_day.name = probe_name.name
       WHERE probe_name.kit_id = kit.id AND probe_day.day >= ($3::timestamptz AT TIME ZONE 'UTC')::date - 1 AND probe_day.day <= ($3::timestamptz AT TIME ZONE 'UTC')::date) AS counted
    LEFT JOIN LATERAL (
      SELECT array_agg((extract(epoch FROM at) * 1000)::float8 ORDER BY at) AS times, array_agg(value ORDER BY at) AS values
        FROM (SELECT at, value, row_number() OVER (ORDER BY at DESC) AS n, count(*) OVER () AS total
                FROM (SELECT at, value FROM reading
                       WHERE system_id = last.system_id AND kit_id = kit.id AND at > $2 AND at <= $3
                         AND voided_at IS NULL AND slot_id IS NULL
                      UNION ALL
                      SELECT at, value FROM unpacked_readings(last.system_id, method.quantity_code, $2, $3) WHERE kit_id = kit.id AND at > $2) AS sent) AS each
       WHERE (n - 1) % ceil(total / ${mostSamples}.0)::bigint = 0) AS recent ON true
   WHERE last.system_id = ANY($1)
   ORDER BY kit.label, kit.id`;

/** The probes in use with their last 48 hours, by system. */
export async function loadProbes(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, ProbeFact[]>> {
  const { rows } = await pool.query<Row>(query, [
    systemIds,
    new Date(span.from.getTime() - shownMs),
    span.now,
  ]);
  return groupBySystem(rows, ({ lastAt, times, values, ...row }) => ({
    ...row,
    lastDay: dayOf(lastAt),
    samples: times.map((time, i) => ({ day: time / dayMs, value: values[i] ?? Number.NaN })),
  }));
}

/** Devices that are silent by their last will, by the system in which they are told. One query. */
export async function loadSilentDevices(
  pool: pg.Pool,
  systemIds: readonly string[],
): Promise<Map<string, SilentDeviceFact[]>> {
  const devices = await silentDevices(pool, systemIds);
  return groupBySystem(devices, ({ topic, since, probes }) => ({
    ...{ topic, probes },
    since: since.toISOString(),
    sinceDay: dayOf(since),
  }));
}
