import type pg from 'pg';
import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';

/** One value that an instrument reported. `value` and `uncertainty` canonical. */
export interface Report {
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
}

/**
 * Keeps what instruments report by themselves: one value an instrument and time, the first that came. Nobody is asked
 * about single values of a probe: rules look at all of them together.
 * @returns those that were new
 */
export async function keepReports(work: Work, reports: readonly Report[]): Promise<Report[]> {
  if (reports.length === 0) return [];
  const rows = reports.map((report) => ({ id: uuidv7(), ...report }));
  const kept = await work.tx.$queryRaw<{ id: string }[]>`
    INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit,
                         account_id, access_key_id, created_at)
    SELECT DISTINCT ON ("kitId", at) id, "systemId", "quantityCode", "methodId", "kitId", at, value, uncertainty, "enteredText", "enteredUnit",
           ${work.by}::uuid, ${work.machine}::uuid, ${work.now}
      FROM json_to_recordset(${JSON.stringify(rows)}::json)
        AS report(id uuid, "systemId" uuid, "quantityCode" text, "methodId" uuid, "kitId" uuid, at timestamptz, value float8,
                  uncertainty float8, "enteredText" text, "enteredUnit" text)
     WHERE NOT EXISTS (SELECT 1 FROM reading AS there
                        WHERE there.system_id = report."systemId" AND there.quantity_code = report."quantityCode"
                          AND there.at = date_trunc('milliseconds', report.at) AND there.kit_id = report."kitId")
     ORDER BY "kitId", at, id
    RETURNING id`;
  for (const systemId of new Set(reports.map((report) => report.systemId))) work.touch(systemId);
  const ids = new Set(kept.map(({ id }) => id));
  return rows.filter((row) => ids.has(row.id));
}

/** What one name reported over some days. */
export interface ReportCount {
  name: string;
  kitId: string | null;
  taken: number;
  /** Values that cannot be: below 0 pH, beyond what water can hold. */
  rejected: number;
  /** The last of them, as it came. */
  refused: string;
}

const counts = `
  SELECT probe_name.name, probe_name.kit_id AS "kitId", coalesce(sum(taken), 0)::int AS taken, coalesce(sum(rejected), 0)::int AS rejected,
         coalesce((array_agg(refused ORDER BY day DESC) FILTER (WHERE refused <> ''))[1], '') AS refused
    FROM probe_name LEFT JOIN probe_day ON probe_day.name = probe_name.name AND day >= $1::date
   GROUP BY probe_name.name ORDER BY probe_name.name`;

/** How much each name reported since a day, and how much of it was refused as impossible. One query. */
export async function reportCounts(pool: pg.Pool, since: Date): Promise<ReportCount[]> {
  return (await pool.query<ReportCount>(counts, [since.toISOString().slice(0, 10)])).rows;
}
