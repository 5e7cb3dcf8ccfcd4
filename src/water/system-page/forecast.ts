import type pg from 'pg';
import { daysBefore } from '../../science/numeric/time.ts';
import { readEstimates } from '../estimates/estimates.ts';
import { removeBias } from '../kits/bias.rules.ts';
import type { KitBias } from '../kits/bias.ts';
import type { ForecastHistory, ForecastReading } from './forecast.rules.ts';

/** Days of history that a forecast is made from. */
const daysBack = 400;

// Hand tests where there are any, else one median a day of what a probe or a laboratory read.
const readings = `
  WITH read AS (
    SELECT reading.at, reading.value, reading.uncertainty, reading.below_detection AS below, reading.above_scale AS above, reading.trust = 'confirmed' AS confirmed,
           method.step, reading.kit_id AS "kitId", method.every_minutes / 1440.0::float8 AS "everyDays", coalesce(method.every_minutes IS NULL AND method.laboratory = '', true) AS hand
      FROM reading_with_vote AS reading LEFT JOIN method ON method.id = reading.method_id
     WHERE reading.system_id = $1 AND reading.quantity_code = $2 AND reading.at > $3 AND reading.at <= $4
       AND reading.voided_at IS NULL AND reading.trust IN ('plain', 'confirmed'))
  SELECT extract(epoch FROM at)::float8 / 86400 AS day, value, uncertainty, below, above, confirmed, step, "kitId", NULL::float8 AS "everyDays" FROM read WHERE hand
  UNION ALL
  SELECT max(extract(epoch FROM at))::float8 / 86400, percentile_cont(0.5) WITHIN GROUP (ORDER BY value), avg(uncertainty), false, false, false, NULL, NULL, min("everyDays")
    FROM read WHERE NOT hand AND NOT below AND NOT above AND NOT EXISTS (SELECT 1 FROM read WHERE hand) GROUP BY date_trunc('day', at)
  ORDER BY 1`;

// A newer reading that nobody repeated yet: by hand only, since a probe's single odd value is its own affair.
const doubted = `
  SELECT EXISTS (SELECT 1 FROM reading LEFT JOIN method ON method.id = reading.method_id
                  WHERE reading.system_id = $1 AND reading.quantity_code = $2 AND reading.at <= $3 AND voided_at IS NULL
                    AND trust = 'unconfirmed' AND method.every_minutes IS NULL
                    AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.system_id = $1 AND later.quantity_code = $2
                      AND later.at > reading.at AND later.at <= $3 AND later.voided_at IS NULL AND later.trust IN ('plain', 'confirmed'))) AS "inDoubt"`;

const events = `
  SELECT extract(epoch FROM at)::float8 / 86400 AS day FROM system_event
   WHERE system_id = $1 AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at`;

/** Reads what a forecast of one quantity in one system is made from, without the bias of kits known to read wrong. Three queries, of nitrate twelve. */
export async function readForecastHistory(
  pool: pg.Pool,
  { systemId, code, now }: { systemId: string; code: string; now: Date },
  biases: ReadonlyMap<string, KitBias>,
): Promise<ForecastHistory> {
  const period = [systemId, code, daysBefore(now, daysBack), now];
  const [read, happened, doubt, estimates] = await Promise.all([
    pool.query<Omit<ForecastReading, 'u'> & { uncertainty: number }>(readings, period),
    pool.query<{ day: number }>(events, [systemId, period[2], now]),
    pool.query<{ inDoubt: boolean }>(doubted, [systemId, code, now]),
    code === 'nitrate' ? readEstimates(pool, [systemId], now) : null,
  ]);
  const nitrate = estimates?.get(systemId)?.nitrate ?? null;
  return {
    readings: read.rows.map(({ uncertainty, ...row }) => {
      const corrected = removeBias({ ...row, uncertainty }, biases.get(row.kitId ?? ''));
      return { ...row, u: corrected?.uncertainty ?? uncertainty, value: corrected?.value ?? row.value };
    }),
    nitrate: nitrate?.knowsProduction ? nitrate.state : null,
    events: happened.rows,
    inDoubt: doubt.rows[0]?.inDoubt ?? false,
  };
}
