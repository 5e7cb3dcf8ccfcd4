import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';

/** One value that an instrument reported. `value` and `uncertainty` canonical. */
export interface ProbeReport {
  name: string;
  systemId: string;
  quantityCode: string;
  methodId: string;
  kitId: string;
  at: Date;
  value: number;
  uncertainty: number;
  enteredText: string;
  enteredUnit: string;
  /** What is to be known of it; empty mostly. */
  note: string;
}

/**
 * Saves what instruments report by themselves: one value for each instrument and time, the first that came. Single values
 * of a probe are not judged: rules look at all of them together.
 * @returns those that were new
 */
export async function saveProbeReports(work: Work, reports: readonly ProbeReport[]): Promise<ProbeReport[]> {
  if (reports.length === 0) return [];
  const rows = reports.map((report) => ({ id: uuidv7(), ...report }));
  const saved = await work.tx.$queryRaw<{ id: string }[]>`
    INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, note,
                         account_id, access_key_id, created_at)
    SELECT DISTINCT ON ("kitId", at) id, "systemId", "quantityCode", "methodId", "kitId", at, value, uncertainty, "enteredText", "enteredUnit", note,
           ${work.accountId}::uuid, ${work.accessKeyId}::uuid, ${work.now}
      FROM json_to_recordset(${JSON.stringify(rows)}::json)
        AS report(id uuid, "systemId" uuid, "quantityCode" text, "methodId" uuid, "kitId" uuid, at timestamptz, value float8,
                  uncertainty float8, "enteredText" text, "enteredUnit" text, note text)
     WHERE NOT EXISTS (SELECT 1 FROM reading AS there
                        WHERE there.system_id = report."systemId" AND there.quantity_code = report."quantityCode"
                          AND there.at = date_trunc('milliseconds', report.at) AND there.kit_id = report."kitId")
     ORDER BY "kitId", at, id
    RETURNING id`;
  for (const systemId of new Set(reports.map((report) => report.systemId))) work.reevaluate(systemId);
  const ids = new Set(saved.map(({ id }) => id));
  return rows.filter((row) => ids.has(row.id));
}
