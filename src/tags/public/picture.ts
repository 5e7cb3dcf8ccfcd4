import { readFile } from 'node:fs/promises';
import type { Reader } from '../../platform/service.ts';
import { imageLibrary } from '../../platform/workers/images.ts';
import { newestPhoto, photoBytes } from '../../stock/lots/photos.ts';

/** What a tag's page shows of the pieces: a photo of their lot with its day, else the shape their kind grows in. */
export interface TagFace {
  photo: { id: string; takenAt: Date } | null;
  /** Null where it is not known. */
  growthForm: string | null;
}

/** A tag with what decides its picture. */
interface Pictured {
  lotId: string;
  issuedAt: Date;
  photoId: string | null;
  photoChosen: boolean;
}

/**
 * The photo that was chosen when the tag was issued, none where the seller shows none; of an older tag the lot's newest then.
 * One that was voided since, or that turned out to show another lot, is left out.
 */
export async function tagFace(db: Reader, tag: Pictured): Promise<TagFace> {
  const { lotId, issuedAt, photoId, photoChosen } = tag;
  const chosen = () =>
    photoId === null
      ? null
      : db.photo.findFirst({
          where: { id: photoId, lotId, voidedAt: null },
          select: { id: true, takenAt: true },
        });
  const [photo, lot] = await Promise.all([
    photoChosen ? chosen() : newestPhoto(db, lotId, issuedAt),
    db.lot.findUniqueOrThrow({
      where: { id: lotId },
      select: { kind: { select: { growthForm: true, parent: { select: { growthForm: true } } } } },
    }),
  ]);
  return { photo, growthForm: lot.kind.growthForm ?? lot.kind.parent?.growthForm ?? null };
}

const forms = new URL('../../../views/assets/growth-forms.svg', import.meta.url);

/** The picture as a file, as previews of the page's address show it: the photo, or the drawing in ink on paper. */
export async function facePicture(db: Reader, face: TagFace): Promise<{ type: string; bytes: Buffer }> {
  if (face.photo !== null)
    return { type: 'image/jpeg', bytes: Buffer.from(await photoBytes(db, face.photo.id, 'image')) };
  const name = face.growthForm ?? 'plug';
  const drawn = new RegExp(`<symbol id="${name}"[^>]*>(.*?)</symbol>`, 's').exec(
    await readFile(forms, 'utf8'),
  )?.[1];
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="-10 -10 120 120" width="640" height="640" color="#1c2421"><rect x="-10" y="-10" width="120" height="120" fill="#fbf8f1"/>${drawn ?? ''}</svg>`;
  const sharp = await imageLibrary();
  return { type: 'image/png', bytes: await sharp(Buffer.from(svg)).png().toBuffer() };
}
