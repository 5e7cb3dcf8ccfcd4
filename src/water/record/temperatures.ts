import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import { reportsItself } from '../probe-days/reports-itself.ts';
import { groupBySystem } from './group-by-system.ts';
import { before, type Span } from './span.ts';
import type { TemperatureFact } from './types.ts';

const temperatureDays = 120;

// What people read by their kits, so that the values of a probe between them are passed by. Of probes each whole day as it
// was rolled up, the one in which the time begins too (half of it would have to be read value by value out of packs); single
// values of the day in which the time ends, of those with readings that were added or changed since, and of those with a
// value beyond what the probe shows or read at a slot.
const query = `
  WITH asked AS (
    SELECT system.id AS system_id, site.time_zone, date_trunc('day', $2::timestamptz, site.time_zone) AS since FROM system JOIN site ON site.id = system.site_id WHERE system.id = ANY($1::uuid[])
  ), anew AS (
    SELECT asked.system_id, time_zone,
           range_agg(tstzrange(date_trunc('day', from_at, time_zone), date_trunc('day', date_trunc('day', to_at, time_zone) + interval '36 hours', time_zone))) AS spans
      FROM asked CROSS JOIN LATERAL (
        VALUES ($3::timestamptz, $3::timestamptz)
        UNION ALL SELECT greatest(from_at, since), least(to_at, $3) FROM reading_unrolled
         WHERE system_id = asked.system_id AND quantity_code = 'temperature' AND from_at <= $3 AND to_at >= since
        UNION ALL SELECT at, at FROM reading_rollup
         WHERE system_id = asked.system_id AND quantity_code = 'temperature' AND grain = 'day' AND at BETWEEN since AND $3 AND below + above > 0
        UNION ALL SELECT at, at FROM reading
         WHERE system_id = asked.system_id AND quantity_code = 'temperature' AND slot_id IS NOT NULL AND at BETWEEN since AND $3) AS stale(from_at, to_at)
     GROUP BY asked.system_id, time_zone
  ), single AS (
    SELECT reading.*, asked.time_zone FROM asked JOIN kit ON true JOIN method ON method.id = kit.method_id AND method.quantity_code = 'temperature' AND NOT (${reportsItself})
     CROSS JOIN LATERAL (SELECT * FROM reading WHERE kit_id = kit.id AND system_id = asked.system_id AND quantity_code = 'temperature' AND at >= since AND at <= $3 OFFSET 0) AS reading
    UNION ALL
    SELECT reading.*, asked.time_zone FROM asked
     CROSS JOIN LATERAL (SELECT * FROM reading WHERE system_id = asked.system_id AND quantity_code = 'temperature' AND at >= since AND at <= $3 AND kit_id IS NULL OFFSET 0) AS reading
      LEFT JOIN method ON method.id = reading.method_id WHERE (${reportsItself}) IS NOT TRUE
    UNION ALL
    SELECT reading.*, anew.time_zone FROM anew JOIN asked USING (system_id) CROSS JOIN unnest(spans) AS span
     CROSS JOIN LATERAL (
       SELECT * FROM reading
        WHERE system_id = anew.system_id AND quantity_code = 'temperature' AND at >= greatest(lower(span), since) AND at < upper(span) AND at <= $3
       UNION ALL
       SELECT * FROM unpacked_readings(anew.system_id, 'temperature', greatest(lower(span), since), least(upper(span), $3)) WHERE at < upper(span) OFFSET 0) AS reading
      JOIN method ON method.id = reading.method_id AND ${reportsItself}
  ), of_one AS (
    SELECT system_id, (at AT TIME ZONE time_zone)::date AS day, method_id, kit_id, avg(value ORDER BY at, id) AS mean, count(*)::float8 AS readings
      FROM single WHERE voided_at IS NULL AND trust <> 'refuted' AND slot_id IS NULL AND NOT above_scale AND NOT below_detection
     GROUP BY 1, 2, 3, 4
    UNION ALL
    SELECT rollup.system_id, (rollup.at AT TIME ZONE anew.time_zone)::date, method_id, kit_id, mean, standing
      FROM anew JOIN asked USING (system_id) JOIN reading_rollup AS rollup ON rollup.system_id = anew.system_id AND rollup.quantity_code = 'temperature' AND grain = 'day'
       AND rollup.at BETWEEN since AND $3 AND NOT spans @> rollup.at AND standing > 0
      JOIN method ON method.id = rollup.method_id AND ${reportsItself})
  SELECT system_id AS "systemId", day - DATE '1970-01-01' AS day, sum(mean * readings) / sum(readings) AS mean,
         json_agg(json_build_object('methodId', method_id, 'kitId', kit_id, 'mean', mean, 'readings', readings) ORDER BY method_id, kit_id) AS sources
    FROM of_one GROUP BY 1, 2 ORDER BY 1, 2`;

/** The mean temperature of each local day that has a reading, by probe or hand, oldest first, by system. */
export async function loadTemperatures(
  reader: SqlReader,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, TemperatureFact[]>> {
  type Row = TemperatureFact & { systemId: string };
  const { rows } = await reader.query<Row>(query, [systemIds, before(span, temperatureDays), span.now]);
  return groupBySystem(rows, (fact) => fact);
}

/** The recorded temperature of each local day up to now, degC, as the clocks of pests take it, by system. */
export async function dayTemperatures(
  reader: SqlReader,
  systemIds: readonly string[],
  now: Date,
): Promise<Map<string, { at: Date; degC: number }[]>> {
  const facts = await loadTemperatures(reader, systemIds, { from: now, now });
  return new Map(
    [...facts].map(([id, days]) => [id, days.map(({ day, mean }) => ({ at: dateAtDay(day), degC: mean }))]),
  );
}
