import { imageLibrary } from '../../platform/workers/images.ts';
import { workerPool } from '../../platform/workers/pool.ts';
import { type CameraNotes, readCameraNotes } from '../../science/photograph/exif.ts';
import type { LotFace, RackToRead } from '../../science/photograph/straight-rack.ts';
import { holdToPhotoFile } from '../lots/photo-image.ts';

/** The most bytes of one photograph (own choice: 20 megapixels take some 10 MB). */
export const LARGEST_PHOTOGRAPH = 25 * 1024 * 1024;

/** A photograph to be read, with the lots that stood on its rack then. */
export interface ReadAsked {
  file: Uint8Array;
  rack: RackToRead;
  /** See `CameraNotes`. */
  focal35: number | null;
  keepOriginal: boolean;
}

/** What the photograph itself tells: mm, degrees. */
export interface ReadQuality {
  residual: number;
  blur: number;
  bent: number;
  tilt: number;
  scale: number;
  tone: number;
  rack: { width: number; depth: number };
  cameraHeight: number | null;
  lots: LotFace[];
}

/** A picture of one lot, JPEG. */
export interface LotPicture {
  image: Uint8Array;
  small: Uint8Array;
  width: number;
  height: number;
}

/** What a worker hands back, part by part. */
export type ReadPart =
  | ({ what: 'reading' } & ReadQuality)
  | ({ what: 'lot'; id: string } & LotPicture)
  | { what: 'straight' | 'original'; image: Uint8Array };

/** A photograph that was read. */
export interface ReadPhotograph extends ReadQuality {
  pictures: Map<string, LotPicture>;
  straight: Uint8Array;
  original: Uint8Array | null;
}

/** Own choices: one at a time, so that pages are answered meanwhile; a photograph of 20 megapixels takes some 3 s. */
const readInWorker = workerPool<ReadAsked, ReadPart>(new URL('./read-worker.ts', import.meta.url), {
  atOnce: 1,
  longestMs: 240_000,
  memoryMb: 1024,
  tooMuch: 'This photograph takes too long to read. Send a smaller one.',
});

/** Reads a photograph in a thread of its own. @throws Refusal where it is not read, in words that say what to do */
export async function readPhotograph(asked: ReadAsked): Promise<ReadPhotograph> {
  const pictures = new Map<string, LotPicture>();
  let quality: ReadQuality | null = null;
  const images: { straight: Uint8Array | null; original: Uint8Array | null } = {
    straight: null,
    original: null,
  };
  await readInWorker(asked, (part) => {
    if (part.what === 'reading') quality = part;
    else if (part.what === 'lot') pictures.set(part.id, part);
    else images[part.what] = part.image;
  });
  if (quality === null || images.straight === null) throw new Error('the worker told nothing');
  return { ...(quality as ReadQuality), pictures, straight: images.straight, original: images.original };
}

/** What the camera wrote into a file. @throws Refusal where it is no photo */
export async function cameraNotesOf(file: Uint8Array): Promise<CameraNotes> {
  await holdToPhotoFile(file);
  const sharp = await imageLibrary();
  return readCameraNotes((await sharp(file).metadata()).exif);
}
