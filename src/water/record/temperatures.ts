import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import { groupBySystem } from './group-by-system.ts';
import { before, type Span } from './span.ts';
import type { TemperatureFact } from './types.ts';

const temperatureDays = 120;

// Of a day that is packed its mean, which stands beside the values; of those in which the time begins and ends the values.
const query = `
  SELECT "systemId", day, sum(mean * readings) / sum(readings) AS mean,
         json_agg(json_build_object('methodId', "methodId", 'kitId', "kitId", 'mean', mean, 'readings', readings)) AS sources
    FROM (
  SELECT told.system_id AS "systemId", (told.at AT TIME ZONE site.time_zone)::date - DATE '1970-01-01' AS day,
         told.method_id AS "methodId", told.kit_id AS "kitId", sum(told.mean * told.readings) / sum(told.readings) AS mean, sum(told.readings) AS readings
    FROM (
      SELECT system_id, at, method_id, kit_id, value AS mean, 1::float8 AS readings FROM reading
       WHERE system_id = ANY($1) AND quantity_code = 'temperature' AND at > $2 AND at <= $3
         AND voided_at IS NULL AND trust <> 'refuted' AND slot_id IS NULL AND NOT above_scale AND NOT below_detection
      UNION ALL
      SELECT system_id, from_at + (until_at - from_at) / 2, method_id, kit_id, mean, readings FROM reading_pack
       WHERE system_id = ANY($1) AND quantity_code = 'temperature' AND from_at > $2 AND until_at <= $3
      UNION ALL
      SELECT pack.system_id, old.at, old.method_id, old.kit_id, old.value, 1 FROM reading_pack AS pack
       CROSS JOIN LATERAL (SELECT pack.from_at + ms * interval '1 millisecond' AS at, pack.method_id, pack.kit_id, value FROM unnest(pack.times, pack.values) AS one(ms, value)) AS old
       WHERE pack.system_id = ANY($1) AND pack.quantity_code = 'temperature' AND pack.until_at > $2 AND pack.from_at <= $3
         AND NOT (pack.from_at > $2 AND pack.until_at <= $3) AND old.at > $2 AND old.at <= $3) AS told
    JOIN system ON system.id = told.system_id JOIN site ON site.id = system.site_id
   GROUP BY 1, 2, 3, 4) AS of_one GROUP BY 1, 2 ORDER BY 1, 2`;

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
