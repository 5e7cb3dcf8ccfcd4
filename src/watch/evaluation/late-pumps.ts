import type { Service } from '../../platform/service.ts';
import { evaluateSystems } from './evaluate.ts';

// Pumps late of which no alert says so yet: what the job sent with the feeding missed.
const lateQuery = `
  SELECT DISTINCT feeding.system_id AS id
    FROM feeding
   WHERE feeding.pumps_off_min IS NOT NULL AND feeding.pumps_on_at IS NULL AND feeding.voided_at IS NULL
     AND feeding.at > $1::timestamptz - interval '60 days' AND feeding.at + make_interval(mins => feeding.pumps_off_min) <= $1
     AND NOT EXISTS (SELECT 1 FROM open_alert
                      WHERE rule = 'pumps-still-off' AND subject_id = coalesce(feeding.tank_id, feeding.system_id))`;

/** Evaluates the systems whose pumps are late and of which nobody was told yet. */
export async function evaluateLatePumps(service: Service, now: Date): Promise<void> {
  const { rows } = await service.pool.query<{ id: string }>(lateQuery, [now]);
  if (rows.length === 0) return;
  await evaluateSystems(
    service,
    rows.map(({ id }) => id),
    now,
  );
}
