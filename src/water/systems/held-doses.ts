import { type Advice, hold, notUp, up } from '../../alerts/advice.ts';
import { opposes } from '../../alerts/conflicts.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** An open alert with what it says is to be done. */
export interface ToldAdvice {
  id: string;
  title: string;
  facet: string;
  /** The alert that explains it, and is told in its place. */
  causeId: string | null;
  advice: readonly Advice[];
}

const query = `
  SELECT id, title, facet, cause_id AS "causeId", coalesce(finding->'advice', '[]') AS advice FROM open_alert
   WHERE system_id = $1::text::uuid AND (put_off_until IS NULL OR put_off_until <= $2) ORDER BY severity, opened_at, id`;

/** The open alerts of a system with their composed advice, most urgent first. One query. */
export async function heldDoses(reader: SqlReader, systemId: string, now: Date): Promise<ToldAdvice[]> {
  return (await reader.query<ToldAdvice>(query, [systemId, now])).rows;
}

/**
 * The alerts by whose composed advice no more of a quantity is dosed now: those that say so; where none does, those whose
 * own dose waits for something else (a kit that is not to be relied on), unless another raises it now: a slow pace that waits for
 * the acute one holds nothing. Every page that names a dose says them beside it.
 */
export function heldBack(alerts: readonly ToldAdvice[], code: string): { id: string; title: string }[] {
  const saying = alerts.filter(({ advice }) =>
    advice.some(({ acts, waits }) => waits !== true && acts.some((act) => opposes(act, up('dose', code)))),
  );
  const waiting = alerts.filter(({ advice, facet }) =>
    advice.some(
      ({ acts, waits }) =>
        waits === true &&
        acts.some((act) => (act.quantity || facet) === code && opposes(act, hold('dose', code))),
    ),
  );
  const isRaised = alerts.some(({ advice, facet }) =>
    advice.some(
      ({ acts, waits }) =>
        waits !== true &&
        acts.some((act) => (act.quantity || facet) === code && opposes(act, notUp('dose', code))),
    ),
  );
  const held = saying.length > 0 ? saying : isRaised ? [] : waiting;
  return held
    .filter(({ causeId }) => !held.some(({ id }) => id === causeId))
    .map(({ id, title }) => ({ id, title }));
}
