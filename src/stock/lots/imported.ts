import { randomInt } from 'node:crypto';
import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Tx } from '../../platform/service.ts';
import { seededRandom } from '../../science/statistics/random.ts';
import { makeCode } from '../base/codes.ts';
import { lotSubject } from '../base/lot-lock.ts';
import { restingOnLots, restsInWords } from './resting.ts';
import { takeLotsBack } from './taking-back.ts';

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

/**
 * Takes the lots of a file back: their pieces no longer count, and their slots were never taken. @returns how many
 * @throws Refusal 409 when something uses one of them, naming it
 */
export async function takeBackLots(work: Work, importId: string, reason: string): Promise<number> {
  const lots = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM lot WHERE import_id = ${importId}::uuid AND import_row IS NOT NULL ORDER BY id FOR UPDATE`;
  const ids = lots.map(({ id }) => id);
  const rests = await restingOnLots(readerOf(work.tx), ids);
  if (rests.length > 0)
    throw new Refusal(
      `The file cannot be taken back any more, since something was done with its lots: ${restsInWords(rests)}. Change those lots by hand.`,
      { status: 409 },
    );
  await takeLotsBack(work, ids, reason);
  await work.tx
    .$executeRaw`UPDATE lot SET import_row = NULL, version = version + 1 WHERE import_id = ${importId}::uuid`;
  return ids.length;
}
