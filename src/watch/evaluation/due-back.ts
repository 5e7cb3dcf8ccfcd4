import type { Service } from '../../platform/service.ts';
import { evaluateSystems } from './evaluate.ts';

// What is due back or late, and looks that are due, of which no alert says so yet: what the jobs sent with it missed.
const dueQuery = `
  SELECT off.system_id AS id
    FROM switched_off AS off
   WHERE off.seen_running_at IS NULL AND off.voided_at IS NULL AND off.due_at <= $1
     AND NOT EXISTS (SELECT 1 FROM open_alert
                      WHERE rule = 'still-off' AND subject_id = coalesce(off.tank_id, off.system_id)
                        AND facet = coalesce(off.equipment_id::text, off.thing::text) AND (severity = 'now' OR off.late_at > $1))
   UNION
  SELECT look.system_id FROM look
   WHERE look.done_at IS NULL AND look.due_at <= $1
     AND NOT EXISTS (SELECT 1 FROM open_alert WHERE rule = 'look-overdue' AND facet = look.id::text)`;

/** Evaluates the systems in which something is due back or late, or a look is due, and of which nobody was told yet. */
export async function evaluateDueBack(service: Service, now: Date): Promise<void> {
  const { rows } = await service.pool.query<{ id: string }>(dueQuery, [now]);
  if (rows.length === 0) return;
  await evaluateSystems(
    service,
    rows.map(({ id }) => id),
    now,
  );
}
