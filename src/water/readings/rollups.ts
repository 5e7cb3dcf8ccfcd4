import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { hourMs } from '../../science/numeric/time.ts';

/** Days that are rolled up by one statement: enough to be quick, few enough to hold nobody up (own choice). */
const daysAtOnce = 40;

// One piece: the earliest days that wait of one quantity in one system. Marks are taken away, what is left of them comes
// back, and the roll-ups are worked out by one statement, which sees all readings whose marks it sees: what is written
// meanwhile keeps its own mark. Whole local days are worked out anew, and rows that stay the same are not written: means are
// summed in order of time, since another order ends in another last digit. Where readings were let go the row is final. A day
// that stayed as rows is asked again whether it can be packed.
const piece = `
  WITH waiting AS (
    SELECT system_id, quantity_code, min(from_at) AS from_at FROM reading_unrolled
     WHERE (system_id, quantity_code) NOT IN (SELECT * FROM unnest($2::uuid[], $3::text[]))
     GROUP BY system_id, quantity_code HAVING min(from_at) < $1 ORDER BY 3 LIMIT 1
  ), bounds AS (
    SELECT waiting.*, site.time_zone, date_trunc('day', waiting.from_at + interval '${daysAtOnce} days', site.time_zone) AS before
      FROM waiting JOIN system ON system.id = waiting.system_id JOIN site ON site.id = system.site_id
  ), taken AS (
    DELETE FROM reading_unrolled USING bounds
     WHERE reading_unrolled.system_id = bounds.system_id AND reading_unrolled.quantity_code = bounds.quantity_code
       AND reading_unrolled.from_at < before
    RETURNING reading_unrolled.from_at, reading_unrolled.to_at
  ), rest AS (
    INSERT INTO reading_unrolled (system_id, quantity_code, from_at, to_at)
    SELECT system_id, quantity_code, before, max(to_at) FROM bounds CROSS JOIN taken
     WHERE to_at >= before GROUP BY system_id, quantity_code, before
    RETURNING 1
  ), span AS (
    SELECT unnest(range_agg(tstzrange(date_trunc('day', taken.from_at, time_zone),
             least(before, date_trunc('day', date_trunc('day', to_at, time_zone) + interval '36 hours', time_zone))))) AS days
      FROM taken CROSS JOIN bounds
  ), one AS (
    SELECT reading.*, voided_at IS NULL AND trust <> 'refuted' AS stands,
           date_trunc('hour', at, time_zone) AS hour, date_trunc('day', at, time_zone) AS day
      FROM span CROSS JOIN bounds
     CROSS JOIN LATERAL (
       SELECT * FROM reading WHERE reading.system_id = bounds.system_id AND reading.quantity_code = bounds.quantity_code AND at >= lower(days) AND at < upper(days)
       UNION ALL
       SELECT * FROM unpacked_readings(bounds.system_id, bounds.quantity_code, lower(days), upper(days)) WHERE at < upper(days)) AS reading
      JOIN method ON method.id = reading.method_id AND method.every_minutes IS NOT NULL
  ), rolled AS (
    INSERT INTO reading_rollup AS kept (system_id, quantity_code, grain, at, instrument, method_id, kit_id, readings, standing, below, above,
                                        unconfirmed, low, high, mean, middle, last, last_at, uncertainty)
    SELECT system_id, quantity_code, (CASE GROUPING(hour) WHEN 0 THEN 'hour' ELSE 'day' END)::"RollupGrain", coalesce(hour, day),
           coalesce(kit_id, method_id), method_id, kit_id, count(*), count(*) FILTER (WHERE stands),
           count(*) FILTER (WHERE stands AND below_detection), count(*) FILTER (WHERE stands AND above_scale),
           count(*) FILTER (WHERE stands AND trust = 'unconfirmed'),
           min(value) FILTER (WHERE stands), max(value) FILTER (WHERE stands), avg(value ORDER BY at, id) FILTER (WHERE stands),
           percentile_cont(0.5) WITHIN GROUP (ORDER BY value) FILTER (WHERE stands),
           (array_agg(value ORDER BY at DESC, created_at DESC) FILTER (WHERE stands))[1], max(at) FILTER (WHERE stands),
           avg(uncertainty ORDER BY at, id) FILTER (WHERE stands)
      FROM one
     GROUP BY system_id, quantity_code, method_id, kit_id, GROUPING SETS ((hour), (day))
        ON CONFLICT (system_id, quantity_code, grain, at, method_id, instrument) DO UPDATE
       SET (readings, standing, below, above, unconfirmed, low, high, mean, middle, last, last_at, uncertainty)
         = (excluded.readings, excluded.standing, excluded.below, excluded.above, excluded.unconfirmed,
            excluded.low, excluded.high, excluded.mean, excluded.middle, excluded.last, excluded.last_at, excluded.uncertainty),
           gone = NULL, packed = nullif(kept.packed, 0)
     WHERE (kept.gone > 0) IS NOT TRUE AND kept IS DISTINCT FROM excluded)
  SELECT system_id AS "systemId", quantity_code AS code, EXISTS (SELECT FROM rest) AS "hasRest" FROM waiting`;

interface Piece {
  systemId: string;
  code: string;
  /** More than 40 days waited. */
  hasRest: boolean;
}

/**
 * Rolls up what was added or changed since it was last called, piece by piece, each a transaction of its own. What began in
 * the hour that runs waits until it is over, so that a probe's values are gone through once an hour and not each minute. What
 * comes late meanwhile waits for the next call: a controller that sends a whole day after a while does so pack by pack, and
 * its day would be gone through for each.
 */
export async function rollUp(reader: SqlReader, now: Date): Promise<void> {
  const hour = new Date(Math.floor(now.getTime() / hourMs) * hourMs);
  const done: Piece[] = [];
  for (;;) {
    const systems = done.map(({ systemId }) => systemId);
    const codes = done.map(({ code }) => code);
    const [rolled] = (await reader.query<Piece>(piece, [hour, systems, codes])).rows;
    if (rolled === undefined) return;
    if (!rolled.hasRest) done.push(rolled);
  }
}
