import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { imageLibrary } from '../../platform/workers/images.ts';
import { makePhoto } from '../../stock/lots/photo-image.ts';

/** A site's own mark as it is drawn: a PNG on white. */
export interface Mark {
  image: Uint8Array<ArrayBuffer>;
  width: number;
  height: number;
}

/** The longer side of a mark as it is kept, px (own choice): sharp at 300 dots an inch on the largest label. */
const LONGEST = 480;
/** The shorter side that a mark needs at least, px (own choice): fewer show nothing. */
const SHORTEST = 16;
/** The most that one side may be longer than the other (own choice): more than that is unreadable on a label. */
const LONGEST_SHAPE = 6;

/**
 * A mark of a sent picture: read as a photo is, which bounds its bytes, its pixels and its time, then trimmed of its white
 * margin and kept small.
 * @throws Refusal when it is no JPEG, PNG or WebP, too large, too small, or too long and thin
 */
export async function makeMark(sent: Uint8Array): Promise<Mark> {
  const { image: photo, width: sentWidth, height: sentHeight } = await makePhoto(sent);
  if (Math.min(sentWidth, sentHeight) < SHORTEST)
    throw new Refusal(
      `This picture is too small for a label. Send one of at least ${SHORTEST} by ${SHORTEST} pixels.`,
      { field: 'photo' },
    );
  const sharp = await imageLibrary();
  const { data, info } = await sharp(photo)
    .trim({ background: '#fff', threshold: 12 })
    .resize({ width: LONGEST, height: LONGEST, fit: 'inside', withoutEnlargement: true })
    .png({ compressionLevel: 9 })
    .toBuffer({ resolveWithObject: true });
  const { width, height } = info;
  if (Math.max(width / height, height / width) > LONGEST_SHAPE)
    throw new Refusal(
      `This picture is too long and thin for a label. Send one that is at most ${LONGEST_SHAPE} times as long as it is high.`,
      { field: 'photo' },
    );
  return { image: new Uint8Array(data), width, height };
}

/** The mark of a site; null where it has none. */
export const findMark = (db: Reader, siteId: string): Promise<Mark | null> =>
  db.siteMark.findUnique({ where: { siteId }, select: { image: true, width: true, height: true } });

/** The mark of a lot's site, as the address of a picture within a page; '' where it has none. */
export async function markOfLot(db: Reader, lotId: string): Promise<string> {
  const lot = await db.lot.findUniqueOrThrow({ where: { id: lotId }, select: { siteId: true } });
  return markSource(await findMark(db, lot.siteId));
}

/** Puts a mark on the site's labels from now on, instead of one that was there. */
export async function setMark(work: Work, siteId: string, mark: Mark): Promise<void> {
  const data = { ...mark, changedAt: work.now };
  await work.tx.siteMark.upsert({
    where: { siteId },
    create: { id: uuidv7(), siteId, ...data },
    update: data,
  });
  work.record('site.mark_changed', { type: 'site', id: siteId }, { width: mark.width, height: mark.height });
}

/** Takes the mark off. @throws Refusal 404 where there is none */
export async function removeMark(work: Work, siteId: string): Promise<void> {
  const { count } = await work.tx.siteMark.deleteMany({ where: { siteId } });
  if (count === 0) throw new Refusal('There is no mark to take off.', { status: 404 });
  work.record('site.mark_removed', { type: 'site', id: siteId }, {});
}

/** The mark as the address of a picture within a page. */
export const markSource = (mark: Mark | null): string =>
  mark === null ? '' : `data:image/png;base64,${Buffer.from(mark.image).toString('base64')}`;
