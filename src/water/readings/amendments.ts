import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { ReadingEntry } from '../entry/entry.rules.ts';
import { bringBackDayOf, findKeptReading } from '../probe-days/unpacked.ts';
import { hoursSinceDoseSql } from './known-hours.ts';
import { type EnteredReading, enterReadings } from './readings.ts';

/** A reading with everything it refers to, and who entered it; also one that is packed. @throws Refusal 404 */
export async function findReading(db: Reader, id: string) {
  const reading = await findKeptReading(db, id);
  if (reading === null) throw notFound('This reading');
  const { systemId, quantityCode, methodId, kitId, supersedesId, accessKeyId, accountId, importId } = reading;
  const named = { select: { name: true } };
  const told = { id: true, enteredText: true, enteredUnit: true };
  // Whoever brought in a file that names nobody did not test.
  const [file] =
    importId === null
      ? []
      : await db.$queryRaw<{ by: string | null }[]>`SELECT brought_by(${importId}::uuid) AS by`;
  const isOnlyBroughtIn = file !== undefined && file.by === accountId;
  const by = accessKeyId
    ? await db.accessKey.findUnique({ where: { id: accessKeyId }, ...named })
    : accountId === null
      ? null
      : await db.account.findUnique({ where: { id: accountId }, ...named });
  return {
    ...reading,
    system: await db.system.findUniqueOrThrow({ where: { id: systemId }, select: { id: true, name: true } }),
    quantity: await db.quantity.findUniqueOrThrow({ where: { code: quantityCode } }),
    method: methodId === null ? null : await db.method.findUnique({ where: { id: methodId } }),
    kit: kitId === null ? null : await db.kit.findUnique({ where: { id: kitId } }),
    supersedes:
      supersedesId === null
        ? null
        : await db.reading.findUnique({ where: { id: supersedesId }, select: told }),
    supersededBy: await db.reading.findFirst({ where: { supersedesId: id }, select: { id: true } }),
    by: reading.measuredBy || (isOnlyBroughtIn ? null : (by?.name ?? null)),
  };
}

/**
 * Hours from the last dose of the reading's quantity to the reading; null where none was logged within the week before, or nobody
 * knows at what hour of its day one of the two was.
 */
export async function hoursSinceDose(
  pool: pg.Pool,
  {
    systemId,
    quantityCode,
    at,
    importId,
  }: { systemId: string; quantityCode: string; at: Date; importId: string | null },
): Promise<number | null> {
  const { rows } = await pool.query<{ hours: number | null }>(
    `SELECT ${hoursSinceDoseSql} AS hours
       FROM (SELECT $1::uuid AS system_id, $2 AS quantity_code, $3::timestamptz AS at, $4::uuid AS import_id) AS reading`,
    [systemId, quantityCode, at, importId],
  );
  return rows[0]?.hours ?? null;
}

/** The right value in place of a mistyped one, and how it went wrong. */
export type Amendment = Omit<ReadingEntry, 'quantityCode' | 'note'> & { reason: string };

/**
 * Puts the right value in place of a mistyped one: a new reading at the same time supersedes the old one, which is
 * voided with the reason and stays in view. Readings that the old one had settled wait for a second one again, unless
 * the new one settles them.
 * @throws Refusal 404; 409 when it is corrected or voided already
 */
export async function amendReading(
  work: Work,
  id: string,
  { reason, ...entry }: Amendment,
): Promise<{ systemId: string; reading: EnteredReading }> {
  await bringBackDayOf(work, id);
  const old = await findReading(work.tx, id);
  if (old.supersededBy !== null)
    throw new Refusal('This reading has already been corrected. Correct the newer one.', { status: 409 });
  if (old.voidedAt !== null)
    throw new Refusal('This reading is voided. Enter the right one as a new reading.', { status: 409 });
  await voidReading(work, id, `Corrected: ${reason}`);
  const { systemId, quantityCode, at, note } = old;
  const { readings } = await enterReadings(work, {
    systemId,
    at,
    note,
    readings: [{ ...entry, quantityCode }],
  }).catch(renameFields(quantityCode));
  const [reading] = readings;
  if (reading === undefined) throw new Refusal('Enter what it should have been.', { field: 'text' });
  await work.tx.reading.update({ where: { id: reading.id }, data: { supersedesId: id } });
  work.record(
    'reading.corrected',
    { type: 'reading', id },
    { to: reading.id, from: old.enteredText, now: reading.said, reason },
  );
  return { systemId, reading };
}

/** Errors of the readings form under the field names of the amendment form. */
function renameFields(quantityCode: string) {
  return (error: unknown): never => {
    if (!(error instanceof Refusal)) throw error;
    const fields = error.fields.map(({ field, message }) => ({
      field: field === quantityCode ? 'text' : field === `${quantityCode}-sure` ? 'sure' : field,
      message,
    }));
    throw new Refusal(error.message, { status: error.status, fields });
  };
}

/** Voids a reading with its reason. Readings that it had confirmed or refuted wait for a second one again. */
export async function voidReading(work: Work, id: string, reason: string): Promise<void> {
  await work.tx.reading.update({ where: { id }, data: { voidedAt: work.now, voidReason: reason } });
  await work.tx.$executeRaw`
    UPDATE reading SET trust = 'unconfirmed', settled_by_id = NULL,
           trust_reason = trim(trust_reason || ' The reading that settled it was voided, so it waits for a second one again.')
     WHERE settled_by_id = ${id}::uuid AND voided_at IS NULL`;
}
