import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import { groupBySystem } from './group-by-system.ts';
import { before, type Span } from './span.ts';
import type { TemperatureFact } from './types.ts';

const temperatureDays = 120;

const query = `
  SELECT "systemId", day, sum(mean * readings) / sum(readings) AS mean,
         json_agg(json_build_object('methodId', "methodId", 'kitId', "kitId", 'mean', mean, 'readings', readings)) AS sources
    FROM (
  SELECT reading.system_id AS "systemId", (reading.at AT TIME ZONE site.time_zone)::date - DATE '1970-01-01' AS day,
         reading.method_id AS "methodId", reading.kit_id AS "kitId", avg(reading.value) AS mean, count(*)::float8 AS readings
    FROM reading
    JOIN system ON system.id = reading.system_id JOIN site ON site.id = system.site_id
   WHERE reading.system_id = ANY($1) AND reading.quantity_code = 'temperature' AND reading.at > $2 AND reading.at <= $3
     AND reading.voided_at IS NULL AND reading.trust <> 'refuted' AND reading.slot_id IS NULL AND NOT reading.above_scale AND NOT reading.below_detection
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
