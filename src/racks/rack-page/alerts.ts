import type pg from 'pg';
import type { Advice } from '../../alerts/advice.ts';
import { worstFirst } from '../../alerts/order.ts';
import { type Step, stepsOf } from '../../alerts/steps.ts';
import type { Severity } from '../../generated/prisma/enums.ts';

/** An open alert about a rack, its lots, or the lamps above it. */
export interface RackAlert {
  id: string;
  severity: Severity;
  title: string;
  openedAt: Date;
  numbers: string | null;
  why: string | null;
  /** What to do now. */
  steps: Step[];
  /** How many of the other alerts on the list it explains. */
  explains: number;
}

type AlertRow = Omit<RackAlert, 'steps'> & { advice: readonly Advice[] | null; firstStep: string };

const query = `
  WITH concerned AS (
    SELECT open_alert.* FROM open_alert
     WHERE (put_off_until IS NULL OR put_off_until <= $2)
       AND ((subject_type = 'lot' AND subject_id IN (SELECT lot_id FROM lot_place WHERE rack_id = $1))
         OR (subject_type = 'rack' AND subject_id = $1)
         OR (subject_type = 'lamp' AND subject_id = (SELECT lamp_id FROM rack WHERE id = $1)))
  )
  SELECT id, severity, title, opened_at AS "openedAt", finding->>'numbers' AS numbers, finding->>'why' AS why,
         finding->'advice' AS advice, coalesce(finding->>'firstStep', '') AS "firstStep",
         (SELECT count(*)::int FROM concerned AS other WHERE other.cause_id = concerned.id) AS explains
    FROM concerned WHERE cause_id IS NULL OR cause_id NOT IN (SELECT id FROM concerned)
   ORDER BY ${worstFirst('concerned')}`;

/** Open alerts about a rack, its lots or its lamps; one that another on the list explains is only counted with that. */
export async function rackAlerts(pool: pg.Pool, rackId: string, now: Date): Promise<RackAlert[]> {
  const { rows } = await pool.query<AlertRow>(query, [rackId, now]);
  return rows.map(({ advice, firstStep, ...alert }) => ({ ...alert, steps: stepsOf({ advice, firstStep }) }));
}
