import type { SqlReader } from '../platform/database/sql-reader.ts';
import type { Finding } from './finding.ts';

/** What is wrong with a whole water, so that nothing is begun there that can wait. */
export interface WaterTrouble {
  systemId: string;
  title: string;
}

/** Urgent on a system, and no trouble of its water: pests have rules of their own; a look that is overdue says nothing of the water. */
const notOfWater = ['pest-in-water', 'look-overdue'];

/** Whether a finding is trouble with a whole water, as {@link IS_WATER_TROUBLE} reads it of a row. */
export function isWaterTrouble(
  {
    subject,
    severity,
    rule,
    unchosenBand = false,
  }: Pick<Finding, 'subject' | 'severity' | 'rule' | 'unchosenBand'>,
  putOff: boolean,
): boolean {
  if (subject.type !== 'system') return false;
  if (severity === 'now') return !notOfWater.includes(rule);
  return severity === 'today' && rule === 'out-of-band' && !putOff && !unchosenBand;
}

/**
 * Whether a row of `alert` is trouble with a whole water: open, about a system, and either urgent or a level outside its band
 * that nobody put off. A band that nobody chose holds up nothing by itself, as long as the level is not beyond what does harm.
 */
export const IS_WATER_TROUBLE = `(alert.cleared_at IS NULL AND alert.subject_type = 'system'
  AND (alert.severity = 'now' AND alert.rule NOT IN (${notOfWater.map((rule) => `'${rule}'`).join(', ')})
       OR alert.severity = 'today' AND alert.rule = 'out-of-band' AND alert.put_off_until IS NULL AND alert.unchosen_band IS NOT TRUE))`;

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
