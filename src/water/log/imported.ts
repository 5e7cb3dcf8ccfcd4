import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { lockWaters } from '../systems/systems.ts';

/** What every entry of a file has; `doneBy` as the file says it. */
interface ImportedEntry {
  systemId: string;
  at: Date;
  doneBy: string;
  note: string;
}

/** A dose of a file. `effect` in the canonical unit; `concerns` are those it was asked about, `reason` why it is right. */
export interface ImportedDose extends ImportedEntry {
  substance: string;
  amount: number;
  unit: string;
  quantityCode: string | null;
  effect: number | null;
  concerns: string[];
  reason: string;
}

export interface ImportedChange extends ImportedEntry {
  volumeL: number;
  makeUp: Record<string, number> | null;
}

/** A feeding of a file: its pumps ran again long ago, so nothing is switched off. */
export interface ImportedFeeding extends Omit<ImportedEntry, 'note'> {
  food: string;
  amountG: number | null;
  tankId: string | null;
  pumpsOffMin: number | null;
  response: string;
}

/** How many entries one statement writes: enough to be fast, little enough to let other requests in between. */
const rowsPerStatement = 500;

/** Writes entries in batches, and has each system evaluated once. */
async function saveEntries<Entry extends { systemId: string }>(
  work: Work,
  entries: readonly Entry[],
  insert: (json: string) => Promise<unknown>,
): Promise<void> {
  const systems = [...new Set(entries.map(({ systemId }) => systemId))];
  await lockWaters(work.tx, systems);
  const breathe = yieldLoop();
  for (let from = 0; from < entries.length; from += rowsPerStatement) {
    const rows = entries.slice(from, from + rowsPerStatement).map((entry) => ({ ...entry, id: uuidv7() }));
    await insert(JSON.stringify(rows));
    await breathe();
  }
  for (const systemId of systems) work.reevaluate(systemId);
}

/** Saves the doses of one file. */
export const saveImportedDoses = (
  work: Work,
  importId: string,
  doses: readonly ImportedDose[],
): Promise<void> =>
  saveEntries(
    work,
    doses,
    (json) => work.tx.$executeRaw`
      INSERT INTO dose (id, system_id, at, substance, amount, unit, quantity_code, effect, note, concerns, reason, done_by,
                        import_id, account_id, created_at)
      SELECT id, "systemId", at, substance, amount, unit, "quantityCode", effect, note,
             array(SELECT json_array_elements_text(concerns)), reason, "doneBy", ${importId}::uuid, ${work.accountId}::uuid, ${work.now}
        FROM json_to_recordset(${json}::json) AS entry(id uuid, "systemId" uuid, at timestamptz, substance text, amount float8,
             unit text, "quantityCode" text, effect float8, note text, concerns json, reason text, "doneBy" text)`,
  );

/** Saves the water changes of one file. */
export const saveImportedChanges = (
  work: Work,
  importId: string,
  changes: readonly ImportedChange[],
): Promise<void> =>
  saveEntries(
    work,
    changes,
    (json) => work.tx.$executeRaw`
      INSERT INTO water_change (id, system_id, at, volume_l, make_up, note, done_by, import_id, account_id, created_at)
      SELECT id, "systemId", at, "volumeL", "makeUp", note, "doneBy", ${importId}::uuid, ${work.accountId}::uuid, ${work.now}
        FROM json_to_recordset(${json}::json) AS entry(id uuid, "systemId" uuid, at timestamptz, "volumeL" float8, "makeUp" jsonb,
             note text, "doneBy" text)`,
  );

/** Saves the feedings of one file. */
export const saveImportedFeedings = (
  work: Work,
  importId: string,
  feedings: readonly ImportedFeeding[],
): Promise<void> =>
  saveEntries(
    work,
    feedings,
    (json) => work.tx.$executeRaw`
      INSERT INTO feeding (id, system_id, at, food, amount_g, tank_id, pumps_off_min, response, done_by, import_id, account_id, created_at)
      SELECT id, "systemId", at, food, "amountG", "tankId", "pumpsOffMin", response, "doneBy", ${importId}::uuid,
             ${work.accountId}::uuid, ${work.now}
        FROM json_to_recordset(${json}::json) AS entry(id uuid, "systemId" uuid, at timestamptz, food text, "amountG" float8,
             "tankId" uuid, "pumpsOffMin" int, response text, "doneBy" text)`,
  );

/** Voids every dose, water change and feeding of a file that is not voided yet. @returns how many */
export async function voidImportedEntries(work: Work, importId: string, reason: string): Promise<number> {
  const touched = await work.tx.$queryRaw<{ systemId: string; n: number }[]>`
    WITH doses AS (UPDATE dose SET voided_at = ${work.now}, void_reason = ${reason}
                    WHERE import_id = ${importId}::uuid AND voided_at IS NULL RETURNING system_id),
         changes AS (UPDATE water_change SET voided_at = ${work.now}, void_reason = ${reason}
                      WHERE import_id = ${importId}::uuid AND voided_at IS NULL RETURNING system_id),
         feedings AS (UPDATE feeding SET voided_at = ${work.now}, void_reason = ${reason}
                       WHERE import_id = ${importId}::uuid AND voided_at IS NULL RETURNING system_id)
    SELECT system_id AS "systemId", count(*)::int AS n
      FROM (SELECT * FROM doses UNION ALL SELECT * FROM changes UNION ALL SELECT * FROM feedings) AS touched GROUP BY system_id`;
  for (const { systemId } of touched) work.reevaluate(systemId);
  return touched.reduce((sum, { n }) => sum + n, 0);
}
