import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { lotSubject } from '../base/lot-lock.ts';
import type { PhotoImage } from './photo-image.ts';

/** A photo of a lot. Its id is a key made by the sender, so that sending it twice stores it once. */
export interface NewPhoto extends PhotoImage {
  id: string;
  lotId: string;
  /** The entry of a round that it belongs to. */
  roundEntryId: string | null;
  takenAt: Date;
  note: string;
}

/**
 * Stores a photo of a lot. A photo whose key exists already changes nothing.
 * @returns false when the key existed already
 * @throws Refusal 404; 409 when the key belongs to a photo of another lot
 */
export async function addPhoto(work: Work, { image, small, ...photo }: NewPhoto): Promise<boolean> {
  const lot = await work.tx.lot.findUnique({ where: { id: photo.lotId }, select: { code: true } });
  if (lot === null) throw notFound('This lot');
  const bytes = { image: new Uint8Array(image), small: new Uint8Array(small) };
  const row = { ...photo, ...bytes, createdAt: work.now, accountId: work.accountId };
  const { count } = await work.tx.photo.createMany({ data: [row], skipDuplicates: true });
  if (count === 0) await refuseOtherLot(work, photo);
  const what = count === 1 ? 'photo.added' : 'photo.sent_again';
  work.record(what, lotSubject(photo.lotId), { photo: photo.id, code: lot.code, note: photo.note });
  return count === 1;
}

/** Keeps one picture with each of several lots, in one statement. @returns the first of them */
export async function addSharedPhoto(
  work: Work,
  lots: readonly { id: string; code: string }[],
  { image, small, ...photo }: PhotoImage & Pick<NewPhoto, 'takenAt' | 'note'>,
): Promise<{ id: string }> {
  const bytes = { image: new Uint8Array(image), small: new Uint8Array(small) };
  const row = { ...photo, ...bytes, createdAt: work.now, accountId: work.accountId };
  const rows = lots.map(({ id }) => ({ ...row, id: uuidv7(), lotId: id }));
  await work.tx.photo.createMany({ data: rows });
  for (const [i, { id, code }] of lots.entries())
    work.record('photo.added', lotSubject(id), { photo: rows[i]?.id, code, note: photo.note });
  return { id: rows[0]?.id ?? '' };
}

async function refuseOtherLot(work: Work, { id, lotId }: Pick<NewPhoto, 'id' | 'lotId'>): Promise<void> {
  const { lotId: earlier } = await work.tx.photo.findUniqueOrThrow({
    where: { id },
    select: { lotId: true },
  });
  if (earlier !== lotId)
    throw new Refusal('This key was used for a photo of another lot. Take it again.', { status: 409 });
}

/** A lot's newest photo of those that were there at a moment; null where there was none. */
export const newestPhoto = (
  db: Reader,
  lotId: string,
  at: Date,
): Promise<{ id: string; takenAt: Date } | null> =>
  db.photo.findFirst({
    where: { lotId, voidedAt: null, takenAt: { lte: at }, createdAt: { lte: at } },
    orderBy: [{ takenAt: 'desc' }, { id: 'desc' }],
    select: { id: true, takenAt: true },
  });

/** A photo without its picture. @throws Refusal 404 */
export async function findPhoto(db: Reader, id: string) {
  const photo = await db.photo.findUnique({
    where: { id },
    omit: { image: true, small: true },
    include: { lot: { select: { code: true, kind: { select: { name: true } } } } },
  });
  if (photo === null) throw notFound('This photo');
  return photo;
}

/** The name of whoever took a photo; "" where nobody is known. */
export async function photographerOf(db: Reader, photo: { accountId: string | null }): Promise<string> {
  if (photo.accountId === null) return '';
  const account = await db.account.findUnique({ where: { id: photo.accountId }, select: { name: true } });
  return account?.name ?? '';
}

/** The picture itself, large or small. @throws Refusal 404 */
export async function photoBytes(db: Reader, id: string, size: 'image' | 'small'): Promise<Uint8Array> {
  const photo = await db.photo.findUnique({ where: { id }, select: { [size]: true } });
  const bytes = (photo as Record<string, Uint8Array> | null)?.[size];
  if (bytes === undefined) throw notFound('This photo');
  return bytes;
}

/** Voids a picture with all lots that it was kept with in one go. @throws Refusal 404, 409 */
export async function voidSharedPhoto(work: Work, id: string, reason: string): Promise<{ code: string }> {
  const { createdAt, accountId, note, lot } = await findPhoto(work.tx, id);
  const one = { createdAt, accountId, note, voidedAt: null };
  const all = await work.tx.photo.findMany({ where: one, select: { id: true, lotId: true } });
  if (all.length === 0) throw new Refusal('This photo is voided already.', { status: 409 });
  const ids = all.map((photo) => photo.id);
  const data = { voidedAt: work.now, voidReason: reason };
  await work.tx.photo.updateMany({ where: { id: { in: ids }, voidedAt: null }, data });
  for (const photo of all) work.record('photo.voided', lotSubject(photo.lotId), { photo: photo.id, reason });
  return { code: lot.code };
}

/** Voids a photo taken by mistake; it stays visible, marked as void. @throws Refusal 404, 409 */
export async function voidPhoto(work: Work, id: string, reason: string): Promise<{ code: string }> {
  const { lot, lotId } = await findPhoto(work.tx, id);
  const data = { voidedAt: work.now, voidReason: reason };
  const { count } = await work.tx.photo.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This photo is voided already.', { status: 409 });
  work.record('photo.voided', lotSubject(lotId), { photo: id, reason });
  return { code: lot.code };
}
