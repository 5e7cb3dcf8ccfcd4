import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { lotSubject } from '../base/lot-lock.ts';
import { findLot } from '../lots/lots.ts';

const about = {
  lot: { select: { id: true, code: true, ownCode: true, siteId: true, kind: { select: { name: true } } } },
  refusedBy: { select: { name: true } },
  photo: { select: { id: true, voidedAt: true, width: true, height: true } },
  photograph: {
    omit: { straight: true, original: true },
    include: { rack: { select: { id: true, name: true, tank: { select: { systemId: true } } } } },
  },
} as const;

/** One lot in one photograph. @throws Refusal 404 */
export async function findLotInPhotograph(db: Reader, id: string) {
  const found = await db.rackPhotographLot.findUnique({ where: { id }, include: about });
  if (found === null) throw notFound('This lot in a photograph');
  return found;
}

type Found = Awaited<ReturnType<typeof findLotInPhotograph>>;

/** The same, locked until the change is done. @throws Refusal 404; 409 where the photograph is taken back */
async function lockedRow(work: Work, id: string): Promise<Found> {
  const { photographId } = await findLotInPhotograph(work.tx, id);
  await work.tx.$executeRaw`SELECT FROM rack_photograph WHERE id = ${photographId}::uuid FOR UPDATE`;
  const row = await findLotInPhotograph(work.tx, id);
  if (row.photograph.voidedAt !== null)
    throw new Refusal('This photograph is taken back: nothing of it counts.', { status: 409 });
  return row;
}

const detailOf = ({ photographId, lot, photograph }: Found) => ({
  ...{ photograph: photographId, code: lot.code, takenAt: photograph.takenAt },
});

/**
 * Refuses what a photograph measured of a lot: its whiteness and area no longer count. Its picture stays.
 * @throws Refusal 404; 409 where it is refused already, or nothing was measured
 */
export async function refuseMeasure(work: Work, id: string, reason: string): Promise<{ code: string }> {
  const row = await lockedRow(work, id);
  if (row.leftOut !== null)
    throw new Refusal('Nothing was measured of this lot in this photograph.', { status: 409 });
  if (row.refusedAt !== null) throw new Refusal('This measure is refused already.', { status: 409 });
  await work.tx.rackPhotographLot.update({
    where: { id },
    data: { refusedAt: work.now, refuseReason: reason, refusedById: work.accountId },
  });
  work.record('rack_photograph.lot_refused', lotSubject(row.lotId), { ...detailOf(row), reason });
  work.reevaluate(row.photograph.rack.tank.systemId);
  return { code: row.lot.code };
}

/** Lets a refused measure count again. @throws Refusal 404; 409 where it counts */
export async function countAgain(work: Work, id: string): Promise<{ code: string }> {
  const row = await lockedRow(work, id);
  if (row.refusedAt === null) throw new Refusal('This measure counts already.', { status: 409 });
  await work.tx.rackPhotographLot.update({
    where: { id },
    data: { refusedAt: null, refuseReason: null, refusedById: null },
  });
  work.record('rack_photograph.lot_counted', lotSubject(row.lotId), {
    ...detailOf(row),
    refusedFor: row.refuseReason,
  });
  work.reevaluate(row.photograph.rack.tank.systemId);
  return { code: row.lot.code };
}

/**
 * Gives what a photograph shows to the lot that it truly shows, picture and measures. Where that lot has a part of this
 * photograph already, the two change places: they were taken for each other.
 * @returns the lot that it was given to, and whether they changed places
 * @throws Refusal 404; 409, 422
 */
export async function giveToLot(
  work: Work,
  id: string,
  typed: string,
): Promise<{ code: string; changed: boolean }> {
  const row = await lockedRow(work, id);
  const other = await findLot(work.tx, typed, row.lot.siteId).catch((error: unknown) => {
    if (error instanceof Refusal) throw new Refusal(error.message, { field: 'lot' });
    throw error;
  });
  if (other.id === row.lotId)
    throw new Refusal('It is this lot’s already. Enter the lot that it shows.', { field: 'lot' });
  const theirs = await work.tx.rackPhotographLot.findFirst({
    where: { photographId: row.photographId, lotId: other.id },
  });
  const give = async (one: { id: string; photoId: string | null }, lotId: string) => {
    await work.tx.rackPhotographLot.update({ where: { id: one.id }, data: { lotId } });
    if (one.photoId !== null) await work.tx.photo.update({ where: { id: one.photoId }, data: { lotId } });
  };
  await give(row, other.id);
  if (theirs !== null) await give(theirs, row.lotId);
  const changed = theirs !== null;
  const detail = { ...detailOf(row), from: row.lot.code, to: other.code, changedPlaces: changed };
  work.record('rack_photograph.lot_given', lotSubject(other.id), detail);
  work.record('rack_photograph.lot_given', lotSubject(row.lotId), detail);
  work.reevaluate(row.photograph.rack.tank.systemId);
  return { code: other.code, changed };
}
