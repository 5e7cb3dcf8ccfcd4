import type pg from 'pg';
import type { Span } from '../../water/record/span.ts';
import type { AcclimationFact } from './types.ts';

interface PlanRow {
  lotId: string;
  id: string;
  name: string;
  purpose: AcclimationFact['purpose'];
  startsDay: number;
  paused: boolean;
  fromDli: number;
  targetDli: number;
  maxStepRatio: number;
}

interface StepRow {
  acclimationId: string;
  lotId: string | null;
  lampId: string | null;
  dueDay: number;
  dli: number;
  doneDay: number | null;
}

const epoch = 'extract(epoch FROM $1) / 86400';
const dayOfDate = (column: string) => `(${column} - DATE '1970-01-01')::float8`;
const dayOfTime = (column: string) => `(${epoch.replace('$1', column)})::float8`;

const planQuery = `
  SELECT acclimation_lot.lot_id AS "lotId", acclimation.id, acclimation.name, purpose, ${dayOfDate('starts_on')} AS "startsDay",
         coalesce(paused_at <= $2, false) AS paused, from_dli AS "fromDli", target_dli AS "targetDli", max_step_ratio AS "maxStepRatio"
    FROM acclimation_lot JOIN acclimation ON acclimation.id = acclimation_lot.acclimation_id
   WHERE acclimation_lot.lot_id = ANY($1::uuid[]) AND acclimation_lot.ended_at IS NULL AND acclimation.created_at <= $2`;

const stepQuery = `
  SELECT acclimation_id AS "acclimationId", lot_id AS "lotId", lamp_id AS "lampId", ${dayOfDate('due_on')} AS "dueDay", dli,
         CASE WHEN done_at <= $2 THEN ${dayOfTime('done_at')} END AS "doneDay"
    FROM acclimation_step WHERE acclimation_id = ANY($1::uuid[]) AND left_out_at IS NULL ORDER BY position, id`;

/** The acclimations that lots are in the middle of, by lot, with the steps of the lot and of the lamps above it. Two queries. */
export async function loadAcclimations(
  pool: pg.Pool,
  lots: readonly { id: string; lampId: string | null }[],
  { now }: Span,
): Promise<Map<string, AcclimationFact>> {
  const plans = (await pool.query<PlanRow>(planQuery, [lots.map(({ id }) => id), now])).rows;
  const ids = [...new Set(plans.map(({ id }) => id))];
  const steps = (await pool.query<StepRow>(stepQuery, [ids, now])).rows;
  const stepsOf = Map.groupBy(steps, (step) => step.acclimationId);
  const lampOf = new Map(lots.map(({ id, lampId }) => [id, lampId]));
  return new Map(
    plans.map(({ lotId, ...plan }) => {
      const lampId = lampOf.get(lotId) ?? null;
      const own = (stepsOf.get(plan.id) ?? []).filter(
        (step) => step.lotId === lotId || (step.lampId !== null && step.lampId === lampId),
      );
      return [lotId, { ...plan, steps: own.map(({ dueDay, dli, doneDay }) => ({ dueDay, dli, doneDay })) }];
    }),
  );
}
