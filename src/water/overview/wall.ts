import type pg from 'pg';
import { withBiasCorrection } from '../kits/bias.ts';
import { votingReadings } from '../probe-days/voting.ts';
import type { HistoryPoint } from './overview.ts';

// At most one test in six hours: probes that report each minute are drawn no finer than that. One that waits for its repeat hides
// none that is relied on.
const traceQuery = `
  SELECT DISTINCT ON (system_id, quantity_code, date_bin('6 hours', at, TIMESTAMPTZ '2000-01-01'), trust = 'unconfirmed')
         system_id AS "systemId", quantity_code AS "quantityCode", at, value, below_detection AS below, above_scale AS above,
         uncertainty, kit_id AS "kitId", trust::text
    ${votingReadings({ systems: '$1', codes: '$2', since: '$3', until: '$4' })}
   WHERE voided_at IS NULL AND trust <> 'refuted'
   ORDER BY system_id, quantity_code, date_bin('6 hours', at, TIMESTAMPTZ '2000-01-01'), trust = 'unconfirmed', at DESC`;

/** The traces of the wall: tests of these quantities, oldest first, corrected where their kit is known to read wrong. Two queries. */
export async function wallTraces(
  pool: pg.Pool,
  systemIds: readonly string[],
  codes: readonly string[],
  { from, to }: { from: Date; to: Date },
): Promise<HistoryPoint[]> {
  const { rows } = await pool.query<HistoryPoint>(traceQuery, [systemIds, codes, from, to]);
  const corrected = await withBiasCorrection(
    pool,
    rows.sort((a, b) => a.at.getTime() - b.at.getTime()),
  );
  return corrected.map((point) => ({ ...point, value: point.corrected?.value ?? point.value }));
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
