import type { SqlReader } from '../platform/database/sql-reader.ts';
import type { Finding } from './finding.ts';

/** What is wrong with a whole water, so that nothing is begun there that can wait. */
export interface WaterTrouble {
  systemId: string;
  title: string;
}

/** Urgent on a system, and no trouble of its water: pests have rules of their own; a look that is overdue says nothing of the water. */
const notOfWater = ['pest-in-water', 'look-overdue'];

/** Whether a finding is trouble with a whole water, as the view water_trouble reads it of a row; a test holds the two to each other. */
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

/** Trouble in the waters of some systems, the most urgent first. One query. */
export async function waterTroubles(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<WaterTrouble[]> {
  const { rows } = await reader.query<WaterTrouble>(
    `SELECT system_id AS "systemId", title FROM water_trouble
      WHERE system_id = ANY($1::uuid[]) ORDER BY severity, opened_at, id`,
    [[...systemIds]],
  );
  return rows;
}
