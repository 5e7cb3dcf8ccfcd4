import { Refusal } from '../../platform/refusal.ts';
import { imageLibrary } from '../../platform/workers/images.ts';
import { turns } from '../../platform/workers/turns.ts';

/** A photo as it is stored: upright, of limited size, without metadata. */
export interface PhotoImage {
  /** JPEG, its longer side at most 1600 px. */
  image: Buffer;
  /** JPEG, 320 px. */
  small: Buffer;
  width: number;
  height: number;
}

const side = { image: 1600, small: 320 };
/** The most pixels of a picture as it is sent: more is an attack on memory rather than a photo. */
const mostPixels = 80_000_000;
const tooLarge = 'This picture is larger than 80 megapixels. Send a smaller one.';
const unreadable =
  'This is not a picture the service can read. Send a JPEG, PNG or WebP file; a phone that writes HEIC can be set to write JPEG.';

/** A picture that takes longer to draw than any photo does is given up, seconds (own choice). */
const longestDrawing = 20;

/** Pictures drawn at once, each by one thread of the image library (own choice). */
const inTurn = turns(2);

const startsWith = (bytes: Uint8Array, signature: string, at = 0) =>
  Buffer.from(bytes.subarray(at, at + signature.length)).toString('latin1') === signature;

/**
 * Whether bytes begin as a photo's do: JPEG, PNG, WebP, or HEIF as phones write it. Anything else is not handed to the
 * image library, which reads drawings and documents too: a few hundred bytes of those can keep it busy for minutes.
 */
function isPhotoFile(bytes: Uint8Array): boolean {
  return (
    startsWith(bytes, '\xff\xd8\xff') ||
    startsWith(bytes, '\x89PNG\r\n\x1a\n') ||
    (startsWith(bytes, 'RIFF') && startsWith(bytes, 'WEBP', 8)) ||
    (startsWith(bytes, 'ftyp', 4) &&
      /^(hei[cfmsx]|hev[cmsx]|mif1|msf1|avif)/.test(Buffer.from(bytes.subarray(8, 12)).toString('latin1')))
  );
}

/** Holds a sent file to what photos are: their kinds of file, and not too large by its header. @throws Refusal */
export async function holdToPhotoFile(sent: Uint8Array): Promise<void> {
  if (!isPhotoFile(sent)) throw new Refusal(unreadable, { field: 'photo' });
  const sharp = await imageLibrary();
  const { width, height } = await sharp(sent)
    .metadata()
    .catch(() => {
      throw new Refusal(unreadable, { field: 'photo' });
    });
  // By its header alone: a picture that claims to be larger is never opened up.
  if (width * height > mostPixels) throw new Refusal(tooLarge, { field: 'photo' });
}

/**
 * Encodes a sent picture again, without place, camera and all other metadata of its file.
 * @throws Refusal when it is no picture, or too large a one
 */
export async function makePhoto(sent: Uint8Array): Promise<PhotoImage> {
  if (!isPhotoFile(sent)) throw new Refusal(unreadable, { field: 'photo' });
  return inTurn(() => draw(sent));
}

async function draw(sent: Uint8Array): Promise<PhotoImage> {
  const sharp = await imageLibrary();
  const scaled = (longest: number, quality: number) =>
    sharp(sent, { limitInputPixels: mostPixels, failOn: 'error' })
      .rotate()
      .resize({ width: longest, height: longest, fit: 'inside', withoutEnlargement: true })
      .flatten({ background: '#fff' })
      .jpeg({ quality, mozjpeg: false })
      .timeout({ seconds: longestDrawing })
      .toBuffer({ resolveWithObject: true });
  try {
    // By its header alone: a picture that claims to be larger is never opened up.
    const { width, height } = await sharp(sent).metadata();
    if (width * height > mostPixels) throw new Refusal(tooLarge, { field: 'photo' });
    const large = await scaled(side.image, 82);
    const small = await scaled(side.small, 75);
    return { image: large.data, small: small.data, width: large.info.width, height: large.info.height };
  } catch (error) {
    if (error instanceof Refusal) throw error;
    const bomb = error instanceof Error && error.message.includes('pixel limit');
    throw new Refusal(bomb ? tooLarge : unreadable, { field: 'photo' });
  }
}
