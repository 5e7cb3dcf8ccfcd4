import type pg from 'pg';
import { daysBefore } from '../../science/numeric/time.ts';
import { readEstimates } from '../estimates/estimates.ts';
import { removeBias } from '../kits/bias.rules.ts';
import { type KitBias, kitBiases } from '../kits/bias.ts';
import { leadsTo } from '../trust/stopped.rules.ts';
import type { ForecastHistory, ForecastReading, StandingStill } from './forecast.rules.ts';

/** Days of history that a forecast is made from. */
const daysBack = 400;

// Hand tests where there are any, else one median a day of what a probe or a laboratory read.
const readings = `
  WITH read AS (
    SELECT reading.system_id, reading.at, reading.value, reading.uncertainty, reading.below_detection AS below, reading.above_scale AS above, reading.trust = 'confirmed' AS confirmed,
           method.step, reading.kit_id AS "kitId", method.every_minutes / 1440.0::float8 AS "everyDays", coalesce(method.every_minutes IS NULL AND method.laboratory = '', true) AS hand
      FROM reading_with_vote AS reading LEFT JOIN method ON method.id = reading.method_id
     WHERE reading.system_id = ANY($1::uuid[]) AND reading.quantity_code = $2 AND reading.at > $3 AND reading.at <= $4
       AND reading.voided_at IS NULL AND reading.trust IN ('plain', 'confirmed'))
  SELECT system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day, value, uncertainty, below, above, confirmed, step, "kitId", NULL::float8 AS "everyDays" FROM read WHERE hand
  UNION ALL
  SELECT system_id, max(extract(epoch FROM at))::float8 / 86400, percentile_cont(0.5) WITHIN GROUP (ORDER BY value), avg(uncertainty), false, false, false, NULL, NULL, min("everyDays")
    FROM read WHERE NOT hand AND NOT below AND NOT above AND NOT EXISTS (SELECT 1 FROM read AS own WHERE own.hand AND own.system_id = read.system_id)
   GROUP BY system_id, date_trunc('day', at)
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
