import sharp from 'sharp';
import { Refusal } from '../../platform/refusal.ts';

/** A photo as it is kept: upright, bounded, nothing in it but the picture. */
export interface PhotoImage {
  /** JPEG, its longer side at most 1600 px. */
  image: Buffer;
  /** JPEG, 320 px. */
  small: Buffer;
  width: number;
  height: number;
}

const side = { image: 1600, small: 320 };
/** What a picture may hold before it is made smaller: more is a bomb rather than a photo. */
const mostPixels = 80_000_000;
const tooLarge = 'This picture is larger than 80 megapixels. Send a smaller one.';
const unreadable = 'This is not a picture the service can read. Send a JPEG, PNG or WebP file.';

/**
 * Draws a sent picture anew, without place, camera and whatever else its file said.
 * @throws Refusal when it is no picture, or too large a one
 */
export async function makePhoto(sent: Uint8Array): Promise<PhotoImage> {
  const scaled = (longest: number, quality: number) =>
    sharp(sent, { limitInputPixels: mostPixels, failOn: 'error' })
      .rotate()
      .resize({ width: longest, height: longest, fit: 'inside', withoutEnlargement: true })
      .flatten({ background: '#fff' })
      .jpeg({ quality, mozjpeg: false })
      .toBuffer({ resolveWithObject: true });
  try {
    const large = await scaled(side.image, 82);
    const small = await scaled(side.small, 75);
    return { image: large.data, small: small.data, width: large.info.width, height: large.info.height };
  } catch (error) {
    const bomb = error instanceof Error && error.message.includes('pixel limit');
    throw new Refusal(bomb ? tooLarge : unreadable, { field: 'photo' });
  }
}
