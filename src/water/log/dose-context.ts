import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { DoseContext, OtherLevel, PastDose } from '../dosing/dose-check.rules.ts';
import { kitBiases } from '../kits/bias.ts';
import { type Quantity, say } from '../quantities/quantities.ts';
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
  SELECT value, at, kit_id AS "kitId" FROM reading_with_vote
   WHERE system_id = $1::text::uuid AND quantity_code = $2 AND voided_at IS NULL AND trust IN ('plain', 'confirmed')
     AND NOT below_detection AND NOT above_scale AND slot_id IS NULL AND at <= $3::timestamptz AND at > $3::timestamptz - interval '7 days'
   ORDER BY at DESC LIMIT 1`;

/** A test by hand that waits for its repeat: newer than the one relied on, or nobody's where there is none. */
const waitingQuery = `
  SELECT value, at FROM reading_with_vote
   WHERE system_id = $1::text::uuid AND quantity_code = $2 AND voided_at IS NULL AND trust = 'unconfirmed'
     AND NOT below_detection AND NOT above_scale AND slot_id IS NULL AND at <= $3::timestamptz AND at > $3::timestamptz - interval '7 days'
     AND at > coalesce($4::timestamptz, '-infinity')
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

/** Reads what a dose is compared with: two queries, and up to six more where it is known what it raises. */
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
  type Level = NonNullable<DoseContext['level']> & { kitId: string | null };
  const [level = null] = (await reader.query<Level>(levelQuery, [systemId, quantity.code, at])).rows;
  const [band] = (await reader.query<DoseContext['band']>(bandQuery, [systemId, quantity.code])).rows;
  const disagreement = (await readDisagreements(reader, [systemId]))(systemId, quantity.code);
  const otherLevel = await readOtherLevel(reader, systemId, quantity, level, at);
  return { ...about, level, otherLevel, disagreement, band: band ?? { low: null, high: null } };
}

/** The other reading of the case; null where there is none. */
async function readOtherLevel(
  reader: SqlReader,
  systemId: string,
  quantity: Quantity,
  level: { value: number; at: Date; kitId: string | null } | null,
  at: Date,
): Promise<OtherLevel | null> {
  type Waiting = { value: number; at: Date };
  const values = [systemId, quantity.code, at, level?.at ?? null];
  const [waiting] = (await reader.query<Waiting>(waitingQuery, values)).rows;
  if (waiting !== undefined)
    return { ...waiting, if: `if the unconfirmed ${say(quantity, waiting.value)} holds` };
  if (level?.kitId == null) return null;
  const kit = (await kitBiases(reader, [level.kitId])).get(level.kitId);
  if (kit?.verdict !== 'suspect' || kit.bias === null) return null;
  const value = level.value / (1 + kit.bias);
  return { value, at: level.at, if: `if ${kit.label} reads wrong and ${say(quantity, value)} is right` };
}
