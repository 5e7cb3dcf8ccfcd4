import type pg from 'pg';
import { daysBefore } from '../../science/numeric/time.ts';
import { readEstimates } from '../estimates/estimates.ts';
import { removeBias } from '../kits/bias.rules.ts';
import { type KitBias, kitBiases } from '../kits/bias.ts';
import { reportsItself } from '../probe-days/reports-itself.ts';
import { leadsTo } from '../trust/stopped.rules.ts';
import type { ForecastHistory, ForecastReading, StandingStill } from './forecast.rules.ts';

/** Days of history that a forecast is made from. */
const daysBack = 400;

// Hand tests where there are any, else one middle a local day of what probes and laboratories read: of probes as it was rolled
// up, but where that is not what counts: where readings were added or changed since, of the days with a value beyond what the
// probe shows or an unconfirmed one, and of the day on which a probe lost its vote. Where values were let go the roll-up
// is all there is.
const readings = `
  WITH asked AS (
    SELECT system.id AS system_id, site.time_zone,
           EXISTS (SELECT 1 FROM reading_rollup AS there WHERE there.system_id = system.id AND there.quantity_code = $2) AS rolled
      FROM system JOIN site ON site.id = system.site_id WHERE system.id = ANY($1::uuid[])
  ), told AS (
    SELECT reading.*, asked.time_zone FROM asked
     CROSS JOIN LATERAL (SELECT * FROM reading_with_vote WHERE NOT asked.rolled AND system_id = asked.system_id AND quantity_code = $2 AND at > $3 AND at <= $4 OFFSET 0) AS reading
    UNION ALL
    SELECT reading.*, asked.time_zone FROM asked JOIN kit ON rolled JOIN method ON method.id = kit.method_id AND method.quantity_code = $2 AND NOT (${reportsItself})
     CROSS JOIN LATERAL (SELECT * FROM reading_with_vote WHERE kit_id = kit.id AND system_id = asked.system_id AND quantity_code = $2 AND at > $3 AND at <= $4 OFFSET 0) AS reading
    UNION ALL
    SELECT reading.*, asked.time_zone FROM asked
     CROSS JOIN LATERAL (SELECT * FROM reading_with_vote WHERE asked.rolled AND system_id = asked.system_id AND quantity_code = $2 AND at > $3 AND at <= $4 AND kit_id IS NULL OFFSET 0) AS reading
  ), read AS (
    SELECT reading.system_id, reading.at, reading.value, reading.uncertainty, reading.below_detection AS below, reading.above_scale AS above, reading.trust = 'confirmed' AS confirmed,
           method.step, reading.kit_id AS "kitId", coalesce(method.laboratory, '') = '' AS hand, reading.time_zone, method.every_minutes
      FROM told AS reading LEFT JOIN method ON method.id = reading.method_id
     WHERE (${reportsItself}) IS NOT TRUE AND reading.voided_at IS NULL AND reading.trust IN ('plain', 'confirmed')
  ), anew AS (
    SELECT asked.system_id, time_zone,
           range_agg(tstzrange(date_trunc('day', from_at, time_zone), date_trunc('day', date_trunc('day', to_at, time_zone) + interval '36 hours', time_zone))) AS spans
      FROM asked CROSS JOIN LATERAL (
        VALUES ($3::timestamptz, $3::timestamptz), ($4::timestamptz, $4::timestamptz)
        UNION ALL SELECT greatest(from_at, $3), least(to_at, $4) FROM reading_unrolled
         WHERE system_id = asked.system_id AND quantity_code = $2 AND from_at <= $4 AND to_at >= $3
        UNION ALL SELECT at, at FROM reading_rollup
         WHERE system_id = asked.system_id AND quantity_code = $2 AND grain = 'day' AND at BETWEEN $3 AND $4 AND below + above + unconfirmed > 0
        UNION ALL SELECT since, since FROM probe_doubt
         WHERE system_id = asked.system_id AND quantity_code = $2 AND since BETWEEN $3 AND $4) AS stale(from_at, to_at)
     WHERE NOT EXISTS (SELECT 1 FROM read WHERE read.hand AND read.system_id = asked.system_id)
     GROUP BY asked.system_id, time_zone
  ), of_probe AS (
    SELECT anew.system_id, rollup.at AS day, method_id, last_at, middle, uncertainty
      FROM anew JOIN reading_rollup AS rollup ON rollup.system_id = anew.system_id AND rollup.quantity_code = $2 AND grain = 'day'
       AND rollup.at BETWEEN $3 AND $4 AND (gone > 0 OR NOT spans @> rollup.at) AND standing > 0
     WHERE NOT EXISTS (SELECT 1 FROM probe_doubt AS doubt
                        WHERE doubt.system_id = rollup.system_id AND doubt.quantity_code = rollup.quantity_code
                          AND doubt.method_id = rollup.method_id AND doubt.kit_id IS NOT DISTINCT FROM rollup.kit_id AND rollup.at >= doubt.since)
    UNION ALL
    SELECT added.system_id, day, method_id, at, middle, uncertainty FROM (
    SELECT anew.system_id, date_trunc('day', reading.at, time_zone) AS day, method_id, kit_id, max(reading.at) AS at,
           percentile_cont(0.5) WITHIN GROUP (ORDER BY value) AS middle, avg(uncertainty) AS uncertainty
      FROM anew CROSS JOIN unnest(spans) AS span
     CROSS JOIN LATERAL (
       SELECT * FROM reading_with_vote
        WHERE system_id = anew.system_id AND quantity_code = $2 AND at >= greatest(lower(span), $3) AND at > $3 AND at <= least(upper(span), $4) AND at < upper(span)
          AND voided_at IS NULL AND trust IN ('plain', 'confirmed') AND NOT below_detection AND NOT above_scale
       UNION ALL
       SELECT * FROM unpacked_with_vote(anew.system_id, $2, greatest(lower(span), $3), least(upper(span), $4)) WHERE at > $3 AND at < upper(span) OFFSET 0) AS reading
     GROUP BY 1, 2, 3, 4) AS added
     WHERE NOT EXISTS (SELECT 1 FROM reading_rollup AS final
                        WHERE final.system_id = added.system_id AND final.quantity_code = $2 AND final.grain = 'day' AND final.at = added.day
                          AND final.method_id = added.method_id AND final.instrument = coalesce(added.kit_id, added.method_id) AND final.gone > 0)
  ), of_day AS (
    SELECT of_probe.system_id, day, last_at AS at, middle AS value, uncertainty, method.every_minutes
      FROM of_probe JOIN method ON method.id = of_probe.method_id AND ${reportsItself}
    UNION ALL
    SELECT system_id, date_trunc('day', at, time_zone), at, value, uncertainty, every_minutes FROM read
     WHERE NOT hand AND NOT below AND NOT above AND NOT EXISTS (SELECT 1 FROM read AS own WHERE own.hand AND own.system_id = read.system_id))
  SELECT system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day, value, uncertainty, below, above, confirmed, step, "kitId", NULL::float8 AS "everyDays" FROM read WHERE hand
  UNION ALL
  SELECT system_id, max(extract(epoch FROM at))::float8 / 86400, percentile_cont(0.5) WITHIN GROUP (ORDER BY value), avg(uncertainty), false, false, false, NULL, NULL,
         min(every_minutes) / 1440.0::float8
    FROM of_day GROUP BY system_id, of_day.day
  ORDER BY 2`;

// A newer reading that nobody repeated yet: by hand only, since a probe's single odd value is its own affair.
const doubted = `
  SELECT DISTINCT reading.system_id AS "systemId" FROM reading_with_vote AS reading LEFT JOIN method ON method.id = reading.method_id
   WHERE reading.system_id = ANY($1::uuid[]) AND reading.quantity_code = $2 AND reading.at <= $3 AND voided_at IS NULL
     AND trust = 'unconfirmed' AND method.every_minutes IS NULL
     AND NOT EXISTS (SELECT 1 FROM reading_with_vote AS later WHERE later.system_id = reading.system_id AND later.quantity_code = $2
       AND later.at > reading.at AND later.at <= $3 AND later.voided_at IS NULL AND later.trust IN ('plain', 'confirmed'))`;

const events = `
  SELECT system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day FROM system_event
   WHERE system_id = ANY($1::uuid[]) AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at`;

// What is off for now, but for pumps at a feeding.
const switchedOff = `
  SELECT off.system_id AS "systemId", off.thing::text, off.what, off.off_at AS "from", equipment.strength_code AS doses
    FROM switched_off AS off LEFT JOIN equipment ON equipment.id = off.equipment_id
   WHERE off.system_id = ANY($1::uuid[]) AND off.off_at <= $2 AND off.voided_at IS NULL AND off.feeding_id IS NULL
     AND (off.seen_running_at IS NULL OR off.seen_running_at > $2) ORDER BY off.off_at`;

/**
 * What a forecast of one quantity in each of these systems is made from, without the bias of kits known to read wrong. Six
 * queries, of nitrate fifteen.
 */
export async function readForecastHistories(
  pool: pg.Pool,
  { systemIds, code, now }: { systemIds: readonly string[]; code: string; now: Date },
): Promise<Map<string, ForecastHistory>> {
  const period = [systemIds, code, daysBefore(now, daysBack), now];
  const [read, happened, doubt, off, estimates] = await Promise.all([
    pool.query<Row>(readings, period),
    pool.query<{ systemId: string; day: number }>(events, [systemIds, period[2], now]),
    pool.query<{ systemId: string }>(doubted, [systemIds, code, now]),
    pool.query<StandingStill & { systemId: string }>(switchedOff, [systemIds, now]),
    code === 'nitrate' ? readEstimates(pool, systemIds, now) : null,
  ]);
  const kits = new Set(read.rows.flatMap(({ kitId }) => (kitId === null ? [] : [kitId])));
  const known = await kitBiases(pool, [...kits]);
  return new Map(
    systemIds.map((id) => {
      const nitrate = estimates?.get(id)?.nitrate ?? null;
      const own = read.rows.filter(({ systemId }) => systemId === id);
      return [
        id,
        {
          readings: own.map((row) => forecastReading(row, known)),
          nitrate: nitrate?.knowsProduction ? nitrate.state : null,
          events: happened.rows.filter(({ systemId }) => systemId === id),
          off: off.rows.filter((one) => one.systemId === id && leadsTo(one, code) !== null),
          inDoubt: doubt.rows.some(({ systemId }) => systemId === id),
        },
      ];
    }),
  );
}

type Row = Omit<ForecastReading, 'u'> & { systemId: string; uncertainty: number };

function forecastReading(
  { systemId: _, uncertainty, ...row }: Row,
  biases: ReadonlyMap<string, KitBias>,
): ForecastReading {
  const corrected = removeBias({ ...row, uncertainty }, biases.get(row.kitId ?? ''));
  return { ...row, u: corrected?.uncertainty ?? uncertainty, value: corrected?.value ?? row.value };
}
