import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { ReadingEntry } from '../entry/entry.rules.ts';
import { bringBackDayOf, findKeptReading } from '../probe-days/unpacked.ts';
import { findOpenWaterSystem, lockWaters } from '../systems/systems.ts';
import { hoursSinceDoseSql } from './known-hours.ts';
import { type EnteredReading, enterReadings } from './readings.ts';

/** A reading with everything it refers to, and who entered it; also one that is packed. @throws Refusal 404 */
export async function findReading(db: Reader, id: string) {
  const reading = await findKeptReading(db, id);
  if (reading === null) throw notFound('This reading');
  const { systemId, quantityCode, methodId, kitId, supersedesId, accessKeyId, accountId, importId } = reading;
  const named = { select: { name: true } };
  const told = {
    id: true,
    enteredText: true,
    enteredUnit: true,
    system: { select: { id: true, name: true } },
  };
  const inPlace = { id: true, system: named, account: named };
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
    system: await db.system.findUniqueOrThrow({
      where: { id: systemId },
      select: { id: true, name: true, siteId: true },
    }),
    quantity: await db.quantity.findUniqueOrThrow({ where: { code: quantityCode } }),
    method: methodId === null ? null : await db.method.findUnique({ where: { id: methodId } }),
    kit: kitId === null ? null : await db.kit.findUnique({ where: { id: kitId } }),
    supersedes:
      supersedesId === null
        ? null
        : await db.reading.findUnique({ where: { id: supersedesId }, select: told }),
    supersededBy: await db.reading.findFirst({ where: { supersedesId: id }, select: inPlace }),
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

/** Where a reading belongs, and how it came into another water; `sure` where its value is unusual there and right. */
export interface Move {
  systemId: string;
  reason: string;
  sure: boolean;
}

/**
 * Puts a reading that was entered for the wrong system where it belongs: a new one of the same time, test and tester is judged
 * by what was read there, and takes the place of the old one, which is voided as moved and stays in view. The rules judge both
 * systems anew.
 * @throws Refusal 404; 409 when it is corrected, moved or voided already; 422 for the system that it stands in, one of another
 *   site or retired, a value of a probe, or a test of one slot; at "sure" for a value that is implausible there
 */
export async function moveReading(
  work: Work,
  id: string,
  { systemId, reason, sure }: Move,
): Promise<{ from: string; to: string; reading: EnteredReading }> {
  await bringBackDayOf(work, id);
  const first = await findReading(work.tx, id);
  await lockWaters(work.tx, [first.systemId, systemId]);
  const old = await findReading(work.tx, id);
  const { at, note, quantityCode, methodId, kitId, batch, method } = old;
  const to = await findOpenWaterSystem(work.tx, systemId);
  refuseMove(old, to);
  await voidReading(work, id, `Moved to ${to.name}: ${reason}`);
  const { mode, dilution } = readAs(old.factor, method?.sideDivisor ?? null);
  const entry: ReadingEntry = {
    ...{ quantityCode, text: old.enteredText, unit: old.enteredUnit, methodId, kitId, batch, sure },
    ...{ side: mode === 'side', dilution: dilution === '' ? 1 : Number(dilution) },
  };
  const { readings } = await enterReadings(work, { systemId, at, note, readings: [entry] }).catch(
    renameFields(quantityCode),
  );
  const [reading] = readings;
  if (reading === undefined)
    throw new Refusal('Nothing was measured by it, so there is nothing to move. Void it instead.');
  const data = { supersedesId: id, measuredBy: old.by ?? '', importId: null };
  await work.tx.reading.update({ where: { id: reading.id }, data });
  const details = { to: reading.id, from: old.system.name, system: to.name, said: reading.said, reason };
  work.record('reading.moved', { type: 'reading', id }, details);
  work.reevaluate(old.systemId);
  return { from: old.system.name, to: to.name, reading };
}

function refuseMove(
  old: Awaited<ReturnType<typeof findReading>>,
  to: { id: string; siteId: string; name: string },
): void {
  if (old.voidedAt !== null)
    throw new Refusal(
      old.supersededBy === null
        ? 'This reading is voided. Enter it for the right water as a new reading.'
        : `This reading was corrected or moved already. The right one stands in ${old.supersededBy.system.name}.`,
      { status: 409 },
    );
  if (to.siteId !== old.system.siteId) throw notFound('This system');
  if (to.id === old.systemId)
    throw new Refusal(`It stands in ${to.name} already. Choose the water that it belongs to.`, {
      field: 'systemId',
    });
  if (old.accessKeyId !== null)
    throw new Refusal(
      'A device sent this value. Say on the page of probes which water its name stands for, and void this one.',
      { field: 'systemId' },
    );
  if (old.slotId !== null)
    throw new Refusal('It was tested at one slot of a rack. Void it, and enter it where it was tested.', {
      field: 'systemId',
    });
}

/** How a reading's number was read, from what it was multiplied by: through the side, diluted, or both. */
export function readAs(factor: number, sideDivisor: number | null): { mode: string; dilution: string } {
  const side = factor < 1;
  const dilution = side && sideDivisor !== null ? Number((factor * sideDivisor).toPrecision(12)) : factor;
  return { mode: side ? 'side' : '', dilution: dilution > 1 ? String(dilution) : '' };
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
