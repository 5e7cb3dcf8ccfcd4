// Reads photographs of racks in a thread of its own; see reading.ts.
import { Refusal } from '../../platform/refusal.ts';
import { imageLibrary } from '../../platform/workers/images.ts';
import { serveWorker } from '../../platform/workers/serve.ts';
import { stepBack } from '../../platform/workers/step-back.ts';
import type { CardBox } from '../../science/photograph/card.ts';
import { encodedOf } from '../../science/photograph/colour.ts';
import type { Picture } from '../../science/photograph/image.ts';
import type { Plane } from '../../science/photograph/plane.ts';
import { aroundRack, readRack } from '../../science/photograph/reading/read.ts';
import { straighten } from '../../science/photograph/straighten.ts';
import { findCodes } from './codes.ts';
import type { ReadAsked, ReadPart } from './reading.ts';
import { notReadWords } from './reading.words.ts';

/** The longest side that is looked at, px: a larger picture is made smaller, as a tablet does, since it tells no more (own choice). */
const LONGEST = 3600;
/** Pictures are drawn with at most so many px a mm, and px along their longer side (own choices). */
const FINEST = 6;
const LONGEST_DRAWN = 3000;

async function* read(asked: ReadAsked): AsyncGenerator<ReadPart> {
  const picture = await decode(asked.file);
  const codes = await findCodes(picture);
  const focal =
    asked.focal35 === null ? null : (asked.focal35 / 36) * Math.max(picture.width, picture.height);
  const reading = readRack(picture, codes, asked.rack, focal);
  if ('why' in reading) throw new Refusal(notReadWords(reading), { field: 'photo' });
  const { plane } = reading;
  yield {
    what: 'reading',
    ...reading.quality,
    rack: { width: plane.width, depth: plane.depth },
    cameraHeight: reading.cameraHeight,
    lots: reading.lots,
  };
  for (const { id, box } of reading.lots)
    yield { what: 'lot', id, ...(await lotPicture(picture, plane, box)) };
  const straight = await drawn(picture, plane, aroundRack(plane), 4);
  yield { what: 'straight', image: (await jpegOf(straight, LONGEST_DRAWN, 82)).image };
  if (asked.keepOriginal) yield { what: 'original', image: await encodedAgain(asked.file) };
}

/** A file as upright px. */
async function decode(file: Uint8Array): Promise<Picture> {
  const sharp = await imageLibrary();
  const { data, info } = await sharp(file, { failOn: 'error' })
    .autoOrient()
    .resize({ width: LONGEST, height: LONGEST, fit: 'inside', withoutEnlargement: true })
    .toColourspace('srgb')
    .flatten({ background: '#fff' })
    .raw()
    .toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, rgb: data };
}

/** The same picture without what a camera writes into its file. */
async function encodedAgain(file: Uint8Array): Promise<Uint8Array> {
  const sharp = await imageLibrary();
  return sharp(file).autoOrient().jpeg({ quality: 88 }).toBuffer();
}

interface Drawn {
  rgb: Buffer;
  width: number;
  height: number;
}

/** The longest side of a picture that lists show, px. */
const SMALL = 320;

async function lotPicture(picture: Picture, plane: Plane, box: CardBox) {
  const raw = await drawn(picture, plane, box, FINEST);
  const large = await jpegOf(raw, 1600, 85);
  const isSmall = Math.max(raw.width, raw.height) <= SMALL;
  const small = isSmall ? large : await jpegOf(raw, SMALL, 78);
  return { image: large.image, small: small.image, width: large.width, height: large.height };
}

const encoded = Uint8Array.from({ length: 4097 }, (_, i) => Math.round(255 * encodedOf(i / 4096)));

/** A part of a rack from straight above, at no more px a mm than the photograph has. */
async function drawn(picture: Picture, plane: Plane, box: CardBox, finest: number): Promise<Drawn> {
  const fine = Math.min(finest, plane.scale, LONGEST_DRAWN / Math.max(box.width, box.height));
  const { width, height, light } = straighten(picture, plane.toPixel, box, fine, plane.scale);
  const rgb = Buffer.from(light.map((value) => encoded[Math.round(value * 4096)] as number));
  return { rgb, width, height };
}

async function jpegOf({ rgb, width, height }: Drawn, longest: number, quality: number) {
  const sharp = await imageLibrary();
  const { data, info } = await sharp(rgb, { raw: { width, height, channels: 3 } })
    .resize({ width: longest, height: longest, fit: 'inside', withoutEnlargement: true })
    .jpeg({ quality })
    .toBuffer({ resolveWithObject: true });
  return { image: data as Uint8Array, width: info.width, height: info.height };
}

stepBack();
serveWorker(read);
