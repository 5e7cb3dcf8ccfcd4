import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { DoseContext, PastDose } from '../dosing/dose-check.rules.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { readDisagreements } from '../trust/disagreements.ts';

/** The doses of 30 days before and of a day after, which a dose that is logged late has. */
const pastQuery = `
  SELECT dose.at, substance, dose.amount, dose.unit, quantity_code AS "quantityCode", effect AS rise,
         step.id IS NULL AND cardinality(concerns) = 0 AS habit
    FROM dose LEFT JOIN correction_step AS step ON step.dose_id = dose.id
   WHERE system_id = $1::text::uuid AND voided_at IS NULL AND dose.at > $2::timestamptz - interval '30 days' AND dose.at < $2::timestamptz + interval '1 day'
   ORDER BY dose.at`;

const plannedQuery = `
  SELECT (detail->>'amount')::float8 AS amount, detail->>'unit' AS unit FROM routine
   WHERE system_id = $1::text::uuid AND work = 'dose' AND ended_at IS NULL AND lower(detail->>'substance') = lower($2)
   ORDER BY created_at DESC LIMIT 1`;

const levelQuery = `
  SELECT value, at FROM reading_with_vote
   WHERE system_id = $1::text::uuid AND quantity_code = $2 AND voided_at IS NULL AND trust IN ('plain', 'confirmed')
     AND NOT below_detection AND NOT above_scale AND slot_id IS NULL AND at <= $3::timestamptz AND at > $3::timestamptz - interval '7 days'
   ORDER BY at DESC LIMIT 1`;

const bandQuery = `
  SELECT band_low AS low, band_high AS high FROM system_quantity WHERE system_id = $1::text::uuid AND quantity_code = $2`;

/** What is asked about: a dose of `substance` at `at`, and what it raises. */
interface ContextRequest {
  systemId: string;
  timeZone: string;
  at: Date;
  substance: string;
  quantity: Quantity | null;
  dailyCap: number | null;
}

/** Reads what a dose is compared with: two queries, and three more where it is known what it raises. */
export async function readDoseContext(
  reader: SqlReader,
  { systemId, timeZone, at, substance, quantity, dailyCap }: ContextRequest,
): Promise<DoseContext> {
  const past = (await reader.query<PastDose>(pastQuery, [systemId, at])).rows;
  type Planned = NonNullable<DoseContext['planned']>;
  const [planned = null] = (await reader.query<Planned>(plannedQuery, [systemId, substance.trim()])).rows;
  const about = { past, planned, quantity, dailyCap, timeZone };
  if (quantity === null)
    return { ...about, level: null, disagreement: null, band: { low: null, high: null } };
  type Level = NonNullable<DoseContext['level']>;
  const [level = null] = (await reader.query<Level>(levelQuery, [systemId, quantity.code, at])).rows;
  const [band] = (await reader.query<DoseContext['band']>(bandQuery, [systemId, quantity.code])).rows;
  const disagreement = (await readDisagreements(reader, [systemId]))(systemId, quantity.code);
  return { ...about, level, disagreement, band: band ?? { low: null, high: null } };
}
