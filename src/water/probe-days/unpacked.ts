import { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';

type Reading = NonNullable<Awaited<ReturnType<Reader['reading']['findUnique']>>>;

/** A reading by its id, also one that is packed; null where there is none. */
export async function findKeptReading(db: Reader, id: string): Promise<Reading | null> {
  const row = await db.reading.findUnique({ where: { id } });
  if (row !== null) return row;
  const [packed] = await db.$queryRaw<Reading[]>`
    SELECT id, system_id AS "systemId", slot_id AS "slotId", quantity_code AS "quantityCode", method_id AS "methodId", kit_id AS "kitId", at, value,
           below_detection AS "belowDetection", above_scale AS "aboveScale", uncertainty, entered_text AS "enteredText", entered_unit AS "enteredUnit",
           factor, trust, trust_reason AS "trustReason", settled_by_id AS "settledById", note, batch, measured_by AS "measuredBy", import_id AS "importId",
           account_id AS "accountId", access_key_id AS "accessKeyId", created_at AS "createdAt", supersedes_id AS "supersedesId",
           voided_at AS "voidedAt", void_reason AS "voidReason"
      FROM unpacked_reading(${id}::uuid)`;
  return packed ?? null;
}

/** Makes rows of the day in which a reading is packed: somebody is about to say something of it. */
export async function bringBackDayOf(work: Work, id: string): Promise<void> {
  await work.tx.$queryRaw(Prisma.sql`
    SELECT bring_back(ARRAY[pack]) FROM pack_of_reading(${id}::uuid) AS pack WHERE pack IS NOT NULL`);
}

/**
 * Holds a packed reading to its site: the bounds between sites know rows only.
 * @throws Refusal 404
 */
export async function holdPackedToSite(db: Reader, id: string, siteId: string): Promise<void> {
  const elsewhere = await db.$queryRaw<object[]>`
    SELECT 1 FROM reading_pack JOIN system ON system.id = reading_pack.system_id
     WHERE reading_pack.nth = (SELECT pack_of_reading(${id}::uuid)) AND system.site_id <> ${siteId}::uuid`;
  if (elsewhere.length > 0) throw notFound('This reading');
}
