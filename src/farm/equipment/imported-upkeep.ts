import { uuidv7 } from 'uuidv7';
import type { UpkeepWork } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';

/** A service or a test of a file; of a device or of a circuit. */
export interface ImportedUpkeep {
  equipmentId: string | null;
  circuitId: string | null;
  work: UpkeepWork;
  at: Date;
  doneBy: string;
  note: string;
}

/** Saves the services and tests of one file, in one statement. */
export async function saveImportedUpkeep(
  work: Work,
  importId: string,
  done: readonly ImportedUpkeep[],
): Promise<void> {
  const json = JSON.stringify(done.map((one) => ({ ...one, id: uuidv7() })));
  await work.tx.$executeRaw`
    INSERT INTO upkeep (id, equipment_id, circuit_id, work, at, note, done_by, import_id, account_id, created_at)
    SELECT id, "equipmentId", "circuitId", work::"UpkeepWork", at, note, "doneBy", ${importId}::uuid, ${work.accountId}::uuid, ${work.now}
      FROM json_to_recordset(${json}::json)
        AS entry(id uuid, "equipmentId" uuid, "circuitId" uuid, work text, at timestamptz, note text, "doneBy" text)`;
  await reevaluateSystems(work, importId);
}

/** Removes the services and tests of a file that is taken back. When the next one is due is then reckoned anew. @returns how many */
export async function removeImportedUpkeep(work: Work, importId: string): Promise<number> {
  await reevaluateSystems(work, importId);
  return (await work.tx.upkeep.deleteMany({ where: { importId } })).count;
}

async function reevaluateSystems(work: Work, importId: string): Promise<void> {
  const systems = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT equipment.system_id AS id FROM upkeep JOIN equipment ON equipment.id = upkeep.equipment_id OR equipment.circuit_id = upkeep.circuit_id
     WHERE import_id = ${importId}::uuid`;
  for (const { id } of systems) work.reevaluate(id);
}
