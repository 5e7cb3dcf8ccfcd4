import { randomInt } from 'node:crypto';
import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Tx } from '../../platform/service.ts';
import { seededRandom } from '../../science/statistics/random.ts';
import { makeCode } from '../base/codes.ts';
import { lotSubject } from '../base/lot-lock.ts';

/** One lot of a file. */
export interface ImportedLot {
  row: number;
  ownCode: string;
  tradeName: string;
  kindId: string;
  pieces: number;
  isMother: boolean;
  /** A lot of the farm, or the lot of another row of the file. */
  mother: { lotId: string } | { row: number } | null;
  slotIds: string[];
  /** Where its slots are; null where it has none. */
  systemId: string | null;
  sizeMm: number | null;
  receivedAt: Date;
  origin: string;
  permit: string;
  priceMinor: number | null;
  note: string;
  importRow: string;
}

/** New codes, all different and none of them taken. */
async function freeCodes(tx: Tx, count: number): Promise<string[]> {
  const random = seededRandom(randomInt(2 ** 48 - 1));
  const codes = new Set<string>();
  while (codes.size < count) {
    const made = Array.from({ length: count - codes.size }, () => makeCode(random));
    const rows = await tx.$queryRaw<{ code: string }[]>`SELECT code FROM lot WHERE code = ANY(${made})`;
    const taken = new Set(rows.map(({ code }) => code));
    for (const code of made) if (!taken.has(code)) codes.add(code);
  }
  return [...codes];
}

/**
 * Takes the lots of one file into the stock: rows, pieces received and places, each in one statement. Lots stand in their
 * slots since they were received, or since now (`since`); never since before a slot was free.
 */
export async function saveImportedLots(
  work: Work,
  { siteId, importId, since }: { siteId: string; importId: string; since: 'received' | 'now' },
  lots: readonly ImportedLot[],
): Promise<void> {
  const codes = await freeCodes(work.tx, lots.length);
  const idOfRow = new Map(lots.map((lot) => [lot.row, uuidv7()]));
  const rows = lots.map(({ mother, receivedAt, ...lot }, i) => ({
    ...lot,
    id: idOfRow.get(lot.row) as string,
    ledgerId: uuidv7(),
    code: codes[i] as string,
    at: receivedAt.toISOString(),
    parentId: mother === null ? null : 'row' in mother ? (idOfRow.get(mother.row) ?? null) : mother.lotId,
  }));
  const json = JSON.stringify(rows);
  await insertLots(work, siteId, importId, json);
  await insertPlaces(work, since, json);
  for (const { id, code, pieces, ownCode, origin } of rows)
    work.record('lot.added', lotSubject(id), { code, ownCode, pieces, origin, importId });
  for (const systemId of new Set(lots.map((lot) => lot.systemId)))
    if (systemId !== null) work.reevaluate(systemId);
}

async function insertLots(work: Work, siteId: string, importId: string, json: string): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO lot (id, code, own_code, trade_name, site_id, kind_id, parent_id, is_mother, origin, permit, size_mm, price_minor,
                     import_id, import_row, arrived_at, note, created_at)
    SELECT id, code, "ownCode", "tradeName", ${siteId}::uuid, "kindId", "parentId", "isMother", origin, permit, "sizeMm", "priceMinor",
           ${importId}::uuid, "importRow", at, note, ${work.now}
      FROM json_to_recordset(${json}::json) AS lot (id uuid, code text, "ownCode" text, "tradeName" text, "kindId" uuid, "parentId" uuid,
           "isMother" boolean, origin text, permit text, "sizeMm" int, "priceMinor" int, "importRow" text, at timestamptz, note text)`;
  await work.tx.$executeRaw`
    INSERT INTO ledger_entry (id, lot_id, at, change, reason, note, account_id, created_at)
    SELECT "ledgerId", id, at, pieces, 'received', '', ${work.accountId}::uuid, ${work.now}
      FROM json_to_recordset(${json}::json) AS lot (id uuid, "ledgerId" uuid, pieces int, at timestamptz)`;
}

async function insertPlaces(work: Work, since: 'received' | 'now', json: string): Promise<void> {
  await work.tx.$executeRaw`
    WITH placed AS (
      SELECT lot.id AS lot_id, gen_random_uuid() AS id, array(SELECT json_array_elements_text("slotIds")::uuid) AS slots, at
        FROM json_to_recordset(${json}::json) AS lot (id uuid, "slotIds" json, at timestamptz)
       WHERE json_array_length("slotIds") > 0),
    began AS (
      INSERT INTO placement (id, lot_id, from_at, reason, account_id, created_at)
      SELECT id, lot_id, CASE WHEN ${since} = 'now' THEN ${work.now}
             ELSE greatest(at, (SELECT max(to_at) FROM placement_slot WHERE slot_id = ANY(slots))) END,
             'Taken in', ${work.accountId}::uuid, ${work.now}
        FROM placed RETURNING id)
    SELECT count(*) FROM began`;
  await work.tx.$executeRaw`
    INSERT INTO placement_slot (placement_id, slot_id)
    SELECT placement.id, slot.id::uuid
      FROM json_to_recordset(${json}::json) AS lot (id uuid, "slotIds" json)
      JOIN placement ON placement.lot_id = lot.id, json_array_elements_text("slotIds") AS slot (id)`;
}

/** What may rest on a lot, as people say it, with the query that finds it. */
const resting = `
  SELECT lot.code,
         CASE WHEN EXISTS (SELECT 1 FROM lot AS child WHERE child.parent_id = lot.id AND child.import_id IS DISTINCT FROM lot.import_id)
                OR EXISTS (SELECT 1 FROM cut WHERE from_lot_id = lot.id OR into_lot_id = lot.id) THEN 'was cut or split'
              WHEN (SELECT count(*) FROM ledger_entry WHERE lot_id = lot.id) > 1 THEN 'was counted, sold or lost'
              WHEN EXISTS (SELECT 1 FROM hold WHERE lot_id = lot.id) THEN 'was held for a buyer'
              WHEN EXISTS (SELECT 1 FROM condition WHERE lot_id = lot.id AND voided_at IS NULL) THEN 'was looked at'
              WHEN (SELECT count(*) FROM placement WHERE lot_id = lot.id) > 1
                OR EXISTS (SELECT 1 FROM placement WHERE lot_id = lot.id AND to_at IS NOT NULL) THEN 'was moved'
              WHEN EXISTS (SELECT 1 FROM identification WHERE lot_id = lot.id) THEN 'was identified'
              WHEN EXISTS (SELECT 1 FROM photo WHERE lot_id = lot.id AND voided_at IS NULL) THEN 'has a photo'
              WHEN EXISTS (SELECT 1 FROM acclimation_lot WHERE lot_id = lot.id) THEN 'is in an acclimation'
         END AS why
    FROM lot WHERE import_id = $1::uuid AND import_row IS NOT NULL ORDER BY lot.code`;

/** Lots that are named in a refusal; own choice. */
const named = 3;

/**
 * Takes the lots of a file back: their pieces are counted off as of the moment they came, and their slots were never
 * taken. @returns how many
 * @throws Refusal 409 when something uses one of them, naming it
 */
export async function takeBackLots(work: Work, importId: string, note: string): Promise<number> {
  await work.tx.$executeRaw`SELECT 1 FROM lot WHERE import_id = ${importId}::uuid FOR UPDATE`;
  const lots = await work.tx.$queryRawUnsafe<{ code: string; why: string | null }[]>(resting, importId);
  const kept = lots.filter(({ why }) => why !== null);
  if (kept.length > 0) {
    const said = kept.slice(0, named).map(({ code, why }) => `${code} ${why}`);
    const more = kept.length > named ? `, and ${kept.length - named} more` : '';
    throw new Refusal(
      `The file cannot be taken back any more, since something was done with its lots: ${said.join(', ')}${more}. Change those lots by hand.`,
      { status: 409 },
    );
  }
  const systems = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT system_id AS id FROM lot_place WHERE lot_id IN (SELECT id FROM lot WHERE import_id = ${importId}::uuid)`;
  await work.tx.$executeRaw`
    DELETE FROM placement_slot WHERE placement_id IN (
      SELECT placement.id FROM placement JOIN lot ON lot.id = placement.lot_id WHERE lot.import_id = ${importId}::uuid AND lot.import_row IS NOT NULL)`;
  await work.tx.$executeRaw`
    DELETE FROM placement WHERE lot_id IN (SELECT id FROM lot WHERE import_id = ${importId}::uuid AND import_row IS NOT NULL)`;
  // Lines of one moment count in the order of their ids: these come after those that were received.
  const lines = lots.map((lot) => ({ ...lot, ledgerId: uuidv7() }));
  await work.tx.$executeRaw`
    INSERT INTO ledger_entry (id, lot_id, at, change, reason, note, account_id, created_at)
    SELECT line."ledgerId", lot.id, lot.arrived_at, -lot.pieces, 'recount', ${note}, ${work.accountId}::uuid, ${work.now}
      FROM json_to_recordset(${JSON.stringify(lines)}::json) AS line (code text, "ledgerId" uuid)
      JOIN lot ON lot.code = line.code`;
  await work.tx
    .$executeRaw`UPDATE lot SET import_row = NULL, version = version + 1 WHERE import_id = ${importId}::uuid`;
  for (const { id } of systems) work.reevaluate(id);
  return lots.length;
}
