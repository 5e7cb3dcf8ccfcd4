import type pg from 'pg';
import { reportsItself } from '../probe-days/reports-itself.ts';
import type { Bucket, Grain, SourceQuestion } from './sources.ts';

// What probes showed in each hour or local day ($5) of a time, each probe by itself: as it was rolled up, but where readings
// were added or changed since, and in what the time begins and ends with, from the readings. Both are told apart by the
// beginning of the hour or day, so that no reading counts twice; readings are those that are packed as well. Where readings were let go since they were rolled up, their
// roll-up alone tells of the whole hour or day, also of one that the time begins in. OFFSET keeps the planner from going
// through all readings of the time at once.
const parts = `
  WITH place AS (
    SELECT site.time_zone, CASE $5::text WHEN 'hour' THEN 'hour' ELSE 'day' END AS kept,
           CASE $5::text WHEN 'hour' THEN interval '90 minutes' ELSE interval '36 hours' END AS beyond
      FROM system JOIN site ON site.id = system.site_id WHERE system.id = $1
  ), anew AS (
    SELECT range_agg(tstzrange(date_trunc(kept, from_at, time_zone), date_trunc(kept, date_trunc(kept, to_at, time_zone) + beyond, time_zone))) AS spans
      FROM place CROSS JOIN (
        VALUES ($3::timestamptz, $3::timestamptz), ($4::timestamptz, $4::timestamptz)
        UNION ALL SELECT greatest(from_at, $3), least(to_at, $4) FROM reading_unrolled
         WHERE system_id = $1 AND quantity_code = $2 AND from_at <= $4 AND to_at >= $3) AS stale(from_at, to_at)
  ), part AS (
    SELECT rollup.at, method_id, kit_id, readings, standing, below, above, unconfirmed, low, high, middle, coalesce(gone, 0) AS gone
      FROM place CROSS JOIN anew
      JOIN reading_rollup AS rollup ON system_id = $1 AND quantity_code = $2 AND grain = kept::"RollupGrain"
       AND rollup.at BETWEEN date_trunc(kept, $3::timestamptz, time_zone) AND $4 AND (gone > 0 OR rollup.at >= $3 AND NOT spans @> rollup.at)
    UNION ALL
    SELECT added.* FROM place CROSS JOIN (
    SELECT date_trunc(kept, reading.at, time_zone) AS at, method_id, kit_id, count(*), count(*) FILTER (WHERE stands),
           count(*) FILTER (WHERE stands AND below_detection), count(*) FILTER (WHERE stands AND above_scale),
           count(*) FILTER (WHERE stands AND trust = 'unconfirmed'), min(value) FILTER (WHERE stands), max(value) FILTER (WHERE stands),
           percentile_cont(0.5) WITHIN GROUP (ORDER BY value) FILTER (WHERE stands), 0
      FROM place CROSS JOIN anew CROSS JOIN unnest(spans) AS span
     CROSS JOIN LATERAL (
       SELECT *, voided_at IS NULL AND trust <> 'refuted' AS stands FROM reading
        WHERE system_id = $1 AND quantity_code = $2 AND at >= greatest(lower(span), $3) AND at <= least(upper(span), $4) AND at < upper(span)
       UNION ALL
       SELECT *, true FROM unpacked_readings($1, $2, greatest(lower(span), $3), least(upper(span), $4)) WHERE at < upper(span) OFFSET 0) AS reading
     WHERE spans @> date_trunc(kept, reading.at, time_zone)
     GROUP BY 1, 2, 3) AS added
     WHERE NOT EXISTS (SELECT FROM reading_rollup AS final
                        WHERE final.system_id = $1 AND final.quantity_code = $2 AND final.grain = kept::"RollupGrain" AND final.at = added.at
                          AND final.method_id = added.method_id AND final.instrument = coalesce(added.kit_id, added.method_id) AND final.gone > 0))`;

const count = `${parts}
  SELECT coalesce(sum(readings), 0)::int AS count, coalesce(sum(gone), 0)::int AS gone
    FROM part JOIN method ON method.id = part.method_id WHERE ${reportsItself}`;

/**
 * How many readings of probes there were, voided ones too, and how many of them are not kept any more. One query, whose work
 * does not grow with them.
 */
export async function countOfProbes(
  pool: pg.Pool,
  { systemId, code, from, to }: SourceQuestion,
): Promise<{ count: number; gone: number }> {
  const { rows } = await pool.query<{ count: number; gone: number }>(count, [
    systemId,
    code,
    from,
    to,
    'day',
  ]);
  return rows[0] ?? { count: 0, gone: 0 };
}

const buckets = `${parts}
  SELECT date_trunc($5::text, part.at, time_zone) AS at, sum(standing)::int AS count,
         percentile_cont(0.5) WITHIN GROUP (ORDER BY middle / coalesce(wrong.times, 1)) AS value,
         min(low / coalesce(wrong.times, 1)) AS low, max(high / coalesce(wrong.times, 1)) AS high,
         sum(below) * 2 > sum(standing) AS below, sum(above) * 2 > sum(standing) AS above, sum(unconfirmed)::int AS unconfirmed
    FROM place CROSS JOIN part JOIN method ON method.id = part.method_id
    LEFT JOIN unnest($6::uuid[], $7::float8[]) AS wrong(kit_id, times) ON wrong.kit_id = part.kit_id
   WHERE standing > 0 AND ${reportsItself}
   GROUP BY 1 ORDER BY 1`;

/**
 * What probes showed, an hour, day or week at a time. Where several report, the value is the middle of their middles; of a
 * week it is the middle of its days' middles.
 */
export async function bucketsOfProbes(
  pool: pg.Pool,
  { systemId, code, from, to, wrong }: SourceQuestion,
  grain: Exclude<Grain, 'reading'>,
): Promise<Bucket[]> {
  const values = [systemId, code, from, to, grain, [...wrong.keys()], [...wrong.values()]];
  return (await pool.query<Bucket>(buckets, values)).rows;
}
