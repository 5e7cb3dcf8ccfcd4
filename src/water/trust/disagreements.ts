import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** Open alerts that two sources disagree; one whose rule finds nothing any more is settled. */
const disagreementsQuery = `
  SELECT system_id AS "systemId", facet AS code, finding->>'numbers' AS numbers FROM open_alert
   WHERE rule = 'sources-differ' AND quiet_since IS NULL AND system_id = ANY($1::text[]::uuid[])`;

/**
 * What two sources that disagree say of a quantity of these systems ("6.6 dKH by one method, 8.3 dKH by the other"), as
 * a function of system and quantity; null where none do. One query.
 */
export async function readDisagreements(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<(systemId: string, code: string) => string | null> {
  type Row = { systemId: string; code: string; numbers: string };
  const { rows } = await reader.query<Row>(disagreementsQuery, [systemIds]);
  return (systemId, code) =>
    rows.find((row) => row.systemId === systemId && row.code === code)?.numbers ?? null;
}

/** Why a level is not set right while two sources disagree about it, and the way on. */
export const disagreementWords = (name: string, numbers: string): string =>
  `Two sources disagree about ${name.toLowerCase()}: ${numbers}. Correct it on neither yet. Test once more, best with a third instrument: the one that two results agree with counts.`;
