import type { SqlReader } from '../platform/database/sql-reader.ts';

/** What is wrong with a whole water, so that nothing is begun there that can wait. */
export interface WaterTrouble {
  systemId: string;
  title: string;
}

/**
 * Whether a row of `alert` is trouble with a whole water: open, about a system, and either urgent or a level outside its band
 * that nobody put off. Pests have rules of their own; a look that is overdue says nothing of the water.
 */
export const IS_WATER_TROUBLE = `(alert.cleared_at IS NULL AND alert.subject_type = 'system'
  AND (alert.severity = 'now' AND alert.rule NOT IN ('pest-in-water', 'look-overdue')
       OR alert.severity = 'today' AND alert.rule = 'out-of-band' AND alert.put_off_until IS NULL))`;

/** Trouble in the waters of some systems, the most urgent first. One query. */
export async function waterTroubles(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<WaterTrouble[]> {
  const { rows } = await reader.query<WaterTrouble>(
    `SELECT system_id AS "systemId", title FROM alert
      WHERE system_id = ANY($1::uuid[]) AND ${IS_WATER_TROUBLE} ORDER BY severity, opened_at, id`,
    [[...systemIds]],
  );
  return rows;
}
