import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import { imageLibrary } from '../../platform/workers/images.ts';
import { CORNERS, cardOf } from '../../science/photograph/card.ts';
import type { Picture } from '../../science/photograph/image.ts';
import { findRings } from '../../science/photograph/rings.ts';
import type { FoundCode } from '../../science/photograph/seen-cards.ts';

const program = createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm');
let isPrepared = false;

/** The library would ask a server elsewhere for its program; it is read from the package. */
async function prepare(): Promise<void> {
  if (isPrepared) return;
  const { buffer } = new Uint8Array(await readFile(program));
  await prepareZXingModule({ overrides: { wasmBinary: buffer }, fireImmediately: true });
  isPrepared = true;
}

/** The longest side of the first look, px; the part of a picture that a second look takes, as a share of its sides, and its longest side, px (own choices). */
const FIRST_LOOK = 2400;
const PART = 0.6;
const LONGEST_PART = 2600;

/**
 * The longest side to which the part around a frame is drawn, px, how much wider than the frame that part is, and how many
 * frames are looked into: a rack has four cards, and much else is dark and square (own choices).
 */
const [LONGEST_FRAME, AROUND, MOST_FRAMES] = [420, 0.15, 12];
/** How a soft frame is made sharper (own choice: of the widths tried on drawn cards the one that had most of them read). */
const EDGES = { sigma: 2, m1: 2, m2: 4 };

/**
 * Finds the codes of cards in a picture: at first in the whole; where fewer than four cards are found, in its four quarters
 * drawn larger, since small squares of a code are told better so; then within each frame that looks like a card's, drawn
 * larger still and made sharper.
 */
export async function findCodes(picture: Picture): Promise<FoundCode[]> {
  await prepare();
  const found = new Map<string, FoundCode>();
  const take = (codes: readonly FoundCode[]) => {
    for (const code of codes)
      if (cardOf(code.text) !== null && !isThere(found, code)) found.set(keyOf(code), code);
  };
  const whole = { left: 0, top: 0, width: picture.width, height: picture.height };
  take(await readPart(picture, whole, FIRST_LOOK));
  const [width, height] = [Math.ceil(picture.width * PART), Math.ceil(picture.height * PART)];
  for (let quarter = 0; quarter < 4 && !hasFour(found); quarter++) {
    const left = quarter % 2 === 0 ? 0 : picture.width - width;
    const top = quarter < 2 ? 0 : picture.height - height;
    take(await readPart(picture, { left, top, width, height }, LONGEST_PART));
  }
  if (!hasFour(found))
    for (const part of framesIn(picture)) take(await readPart(picture, part, LONGEST_FRAME, true));
  return [...found.values()];
}

interface Part {
  left: number;
  top: number;
  width: number;
  height: number;
}

/** The parts of a picture around what looks like frames of cards, the largest first. */
function framesIn(picture: Picture): Part[] {
  const parts = findRings(picture).map((ring) => {
    const [xs, ys] = [ring.map(({ x }) => x), ring.map(({ y }) => y)];
    const around = AROUND * (Math.max(...xs) - Math.min(...xs));
    const [left, top] = [Math.min(...xs), Math.min(...ys)].map((at) => Math.max(0, Math.floor(at - around)));
    const right = Math.min(picture.width, Math.ceil(Math.max(...xs) + around));
    const bottom = Math.min(picture.height, Math.ceil(Math.max(...ys) + around));
    return { left: left ?? 0, top: top ?? 0, width: right - (left ?? 0), height: bottom - (top ?? 0) };
  });
  return parts.sort((a, b) => b.width * b.height - a.width * a.height).slice(0, MOST_FRAMES);
}

const middleOf = ({ corners }: FoundCode) => ({
  x: corners.reduce((sum, { x }) => sum + x, 0) / corners.length,
  y: corners.reduce((sum, { y }) => sum + y, 0) / corners.length,
});
const keyOf = (code: FoundCode) => `${code.text} ${middleOf(code).x} ${middleOf(code).y}`;

/** The same card at the same place; one that lies at another place as well is kept beside it. */
function isThere(found: ReadonlyMap<string, FoundCode>, code: FoundCode): boolean {
  const { x, y } = middleOf(code);
  return [...found.values()].some((other) => {
    const there = middleOf(other);
    const [first, , third] = other.corners;
    const wide = Math.hypot((first?.x ?? 0) - (third?.x ?? 0), (first?.y ?? 0) - (third?.y ?? 0));
    return other.text === code.text && Math.hypot(there.x - x, there.y - y) < wide / 2;
  });
}

/** Whether some rack has all its cards. */
function hasFour(found: ReadonlyMap<string, FoundCode>): boolean {
  const racks = [...found.values()].flatMap(({ text }) => cardOf(text)?.rackId ?? []);
  return racks.some((rack) => racks.filter((other) => other === rack).length >= CORNERS.length);
}

async function readPart(
  { width, height, rgb }: Picture,
  part: Part,
  longest: number,
  isFrame = false,
): Promise<FoundCode[]> {
  const scale = Math.min(isFrame ? 6 : 2, longest / Math.max(part.width, part.height));
  const [wide, high] = [Math.round(part.width * scale), Math.round(part.height * scale)];
  const sharp = await imageLibrary();
  const drawn = sharp(rgb, { raw: { width, height, channels: 3 } })
    .extract(part)
    .resize(wide, high, { fit: 'fill', kernel: 'cubic' });
  const px = await (isFrame ? drawn.sharpen(EDGES) : drawn).raw().toBuffer();
  return (await read(px, wide, high)).map(({ corners, ...code }) => ({
    ...code,
    // The middle of the first px is at 0.
    corners: corners.map(({ x, y }) => ({
      x: part.left + ((x + 0.5) * part.width) / wide - 0.5,
      y: part.top + ((y + 0.5) * part.height) / high - 0.5,
    })),
  }));
}

async function read(rgb: Uint8Array, width: number, height: number): Promise<FoundCode[]> {
  const data = new Uint8ClampedArray(4 * width * height);
  for (let from = 0, to = 0; from < rgb.length; from += 3, to += 4) {
    data[to] = rgb[from] as number;
    data[to + 1] = rgb[from + 1] as number;
    data[to + 2] = rgb[from + 2] as number;
    data[to + 3] = 255;
  }
  const found = await readBarcodes({ data, width, height } as ImageData, {
    formats: ['QRCode'],
    tryHarder: true,
    tryInvert: false,
    tryDownscale: false,
    maxNumberOfSymbols: 12,
  });
  return found
    .filter(({ isValid }) => isValid)
    .map(({ text, version, position }) => ({
      text,
      version: Number(version),
      corners: [position.topLeft, position.topRight, position.bottomRight, position.bottomLeft],
    }));
}
