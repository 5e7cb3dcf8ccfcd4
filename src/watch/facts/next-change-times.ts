import type pg from 'pg';
import type { Span } from '../../water/record/span.ts';

interface Row {
  /** Null: of every system. */
  systemId: string | null;
  ms: number;
}

const next = (sources: readonly string[]) => `
  SELECT system_id AS "systemId", date_part('epoch', min(at)) * 1000 AS ms FROM (${sources.join(' UNION ALL ')}) AS ahead
   WHERE at > $2 GROUP BY system_id`;

/** `from`: "FROM table", so that what is read stands where it is named. */
const ofSystem = (from: string, column: string) =>
  `SELECT system_id, ${column} AS at ${from} WHERE system_id = ANY($1) AND ${column} > $2`;

const ofAny = (from: string, column: string) =>
  `SELECT NULL::uuid AS system_id, ${column} AS at ${from} WHERE ${column} > $2`;

const ofSteps = (column: string) =>
  `SELECT correction.system_id, correction_step.${column} AS at FROM correction_step JOIN correction ON correction.id = correction_id
    WHERE system_id = ANY($1) AND correction_step.${column} > $2`;

const waterQuery = next([
  `SELECT asked.id AS system_id, found.at FROM unnest($1::uuid[]) AS asked(id) CROSS JOIN quantity
    CROSS JOIN LATERAL (SELECT at FROM reading WHERE system_id = asked.id AND quantity_code = quantity.code AND at > $2 ORDER BY at LIMIT 1) AS found`,
  ofSystem('FROM water_change', 'at'),
  ofSystem('FROM dose', 'at'),
  ofSystem('FROM feeding', 'at'),
  ofSystem('FROM switched_off', 'off_at'),
  ofSystem('FROM switched_off', 'seen_running_at'),
  ofSystem('FROM fault', 'noted_at'),
  ofSystem('FROM fault', 'mended_at'),
  ofSystem('FROM look', 'done_at'),
  ofSystem('FROM system_event', 'at'),
  ofSystem('FROM routine', 'created_at'),
  ofSystem('FROM routine', 'ended_at'),
  ofSystem('FROM correction', 'created_at'),
  ofSystem('FROM correction', 'finished_at'),
  ofSystem('FROM correction', 'stopped_at'),
  ofSteps('done_at'),
  ofSteps('left_out_at'),
  ofAny('FROM check_reading', 'at'),
  ofAny('FROM kit_pair', 'at'),
  ofAny('FROM kit', 'retired_at'),
]);

const lotQuery = next([
  `SELECT DISTINCT here.system_id, condition.at FROM lot_place AS here JOIN condition ON condition.lot_id = here.lot_id
    WHERE here.system_id = ANY($1) AND condition.at > $2`,
  `SELECT system_id, from_at AS at FROM lot_place WHERE system_id = ANY($1) AND from_at > $2`,
  ofAny('FROM rack_photograph', 'taken_at'),
  ofAny('FROM light_survey', 'measured_at'),
  ofAny('FROM lamp_setting', 'at'),
  ofAny('FROM rack_stand', 'at'),
  ofAny('FROM acclimation', 'created_at'),
  ofAny('FROM acclimation', 'paused_at'),
  ofAny('FROM acclimation_step', 'done_at'),
]);

/**
 * The first time after `now` that a row already carries, milliseconds since 1970, by system and (null) for all. Facts
 * leave out rows later than `now`, so at that time they change although nobody writes. Of the water, or of lots and light.
 */
export async function nextChangeTimes(
  pool: pg.Pool,
  of: 'water' | 'lots',
  systemIds: readonly string[],
  { now }: Span,
): Promise<Map<string | null, number>> {
  const { rows } = await pool.query<Row>(of === 'water' ? waterQuery : lotQuery, [systemIds, now]);
  return new Map(rows.map(({ systemId, ms }) => [systemId, ms]));
}
