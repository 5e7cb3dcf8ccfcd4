import type pg from 'pg';
import { correctionsOf } from '../kits/bias.ts';
import { tracesOf } from './kept-traces.ts';
import type { WallPoint } from './wall.rules.ts';

/**
 * The traces of the wall, by system and quantity (`traceKey`): tests of these quantities, the oldest first, corrected where
 * their kit is known to read wrong. Four small queries, and one for what changed since it was last asked for.
 */
export async function wallTraces(
  pool: pg.Pool,
  systemIds: readonly string[],
  codes: readonly string[],
  span: { from: Date; to: Date },
): Promise<Map<string, WallPoint[]>> {
  const traces = await tracesOf(pool, systemIds, codes, span);
  const correct = await correctionsOf(pool, [...traces.values()].flat());
  return new Map(
    [...traces].map(([key, points]) => [
      key,
      points.map((point) => ({
        at: point.at,
        value: correct(point)?.value ?? point.value,
        unconfirmed: point.trust === 'unconfirmed',
      })),
    ]),
  );
}

/** An open alert, with the quantity that it is about. */
export interface QuantityAlert {
  id: string;
  systemId: string;
  quantityCode: string;
  severity: 'now' | 'today' | 'watch';
  title: string;
  openedAt: Date;
}

const alertsQuery = `
  SELECT open.id, open.system_id AS "systemId", coalesce(method.quantity_code, cited.code) AS "quantityCode",
         open.severity::text, open.title, open.opened_at AS "openedAt"
    FROM open_alert AS open
    LEFT JOIN kit ON open.subject_type = 'kit' AND kit.id = open.subject_id
    LEFT JOIN method ON method.id = kit.method_id
    LEFT JOIN LATERAL (
      SELECT reading.quantity_code AS code FROM jsonb_array_elements(open.finding -> 'evidence') AS piece
        JOIN reading ON reading.id = (piece ->> 'id')::uuid
       WHERE piece ->> 'kind' = 'reading' GROUP BY 1 ORDER BY count(*) DESC, 1 LIMIT 1) AS cited ON true
   WHERE open.system_id = ANY($1::uuid[]) AND open.subject_type IN ('system', 'kit') AND open.cause_id IS NULL
     AND (open.put_off_until IS NULL OR open.put_off_until <= $2) AND coalesce(method.quantity_code, cited.code) IS NOT NULL
   ORDER BY open.severity, open.opened_at, open.id`;

/** The open alerts of systems that are about one quantity (by their kit, or by the tests they cite), most urgent first. */
export async function alertsByQuantity(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<QuantityAlert[]> {
  return (await pool.query<QuantityAlert>(alertsQuery, [systemIds, now])).rows;
}
