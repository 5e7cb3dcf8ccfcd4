import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import { imageLibrary } from '../../platform/workers/images.ts';
import { CORNERS, cardOf, type Point } from '../../science/photograph/card.ts';
import { drawCode, placeCode } from '../../science/photograph/code-grid.ts';
import { cardMap, findFrame } from '../../science/photograph/frame.ts';
import type { Picture } from '../../science/photograph/image.ts';
import { findRings, isSame } from '../../science/photograph/rings.ts';
import { cardCodes, cardsToExpect, type FoundCode } from '../../science/photograph/seen-cards.ts';

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

/** So many frames are looked into at most: a rack has four cards, and much else is dark and square (own choice). */
const MOST_FRAMES = 16;

/**
 * Finds the codes of cards in a picture: at first in the whole; where fewer than four cards are found, square by square within
 * the frames that look like cards' and where the rack's other cards say that one lies; then in its four quarters drawn larger.
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
  if (!areWhole(found)) await readFrames(picture, found, take);
  const [width, height] = [Math.ceil(picture.width * PART), Math.ceil(picture.height * PART)];
  for (let quarter = 0; quarter < 4 && !hasFour(found); quarter++) {
    const left = quarter % 2 === 0 ? 0 : picture.width - width;
    const top = quarter < 2 ? 0 : picture.height - height;
    take(await readPart(picture, { left, top, width, height }, LONGEST_PART));
  }
  return [...found.values()];
}

/** The versions that an address of a service makes of a card's code (ISO/IEC 18004), and how much squares are sharpened (own choices). */
const [VERSIONS, SHARPENED] = [
  [3, 4, 2, 5],
  [0.5, 1, 1.8, 0],
];

/**
 * Reads codes by their frames, square by square: those of frames that were found, and where a rack's other cards say that one
 * lies. Of a card whose code was found nothing more is looked for.
 */
async function readFrames(
  picture: Picture,
  found: ReadonlyMap<string, FoundCode>,
  take: (codes: readonly FoundCode[]) => void,
): Promise<void> {
  const isRead = (corners: readonly Point[]) =>
    [...found.values()].some((code) => isSame(corners, code.corners));
  const versions = [...new Set([...[...found.values()].map(({ version }) => version), ...VERSIONS])];
  const readOne = async (corners: readonly Point[]) => {
    const { corners: fine } = findFrame(picture, cardMap(corners));
    for (const place of placeCode(picture, fine, versions))
      for (const sharpened of SHARPENED) {
        const { px, side, toPicture } = drawCode(picture, place, sharpened);
        const [code] = await read(inColours(px), side, side);
        if (code === undefined) continue;
        take([{ ...code, corners: code.corners.map(toPicture) }]);
        return;
      }
  };
  const rings = findRings(picture).toSorted((a, b) => wideOf(b) - wideOf(a));
  for (const ring of rings.slice(0, MOST_FRAMES)) if (!isRead(ring)) await readOne(ring);
  for (const rack of cardsByRack(found).keys())
    for (const corners of cardsToExpect(picture, cardCodes([...found.values()], rack).own))
      if (!isRead(corners)) await readOne(corners);
}

function inColours(px: Uint8Array): Uint8Array {
  const rgb = new Uint8Array(3 * px.length);
  for (let i = 0; i < px.length; i++) rgb.fill(px[i] as number, 3 * i, 3 * i + 3);
  return rgb;
}

interface Part {
  left: number;
  top: number;
  width: number;
  height: number;
}

const wideOf = (ring: readonly Point[]) =>
  Math.max(...ring.map(({ x }) => x)) - Math.min(...ring.map(({ x }) => x));

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

/** How many cards of each rack were found. */
function cardsByRack(found: ReadonlyMap<string, FoundCode>): Map<string, number> {
  const counts = new Map<string, number>();
  for (const { text } of found.values()) {
    const rack = cardOf(text)?.rackId;
    if (rack !== undefined) counts.set(rack, (counts.get(rack) ?? 0) + 1);
  }
  return counts;
}

/** Whether some rack has all its cards. */
const hasFour = (found: ReadonlyMap<string, FoundCode>): boolean =>
  [...cardsByRack(found).values()].some((count) => count >= CORNERS.length);

/** Whether every rack of which a card was found has all its cards: which of them is asked for is not known here. */
const areWhole = (found: ReadonlyMap<string, FoundCode>): boolean =>
  hasFour(found) && [...cardsByRack(found).values()].every((count) => count >= CORNERS.length);

async function readPart({ width, height, rgb }: Picture, part: Part, longest: number): Promise<FoundCode[]> {
  const scale = Math.min(2, longest / Math.max(part.width, part.height));
  const [wide, high] = [Math.round(part.width * scale), Math.round(part.height * scale)];
  const sharp = await imageLibrary();
  const drawn = sharp(rgb, { raw: { width, height, channels: 3 } })
    .extract(part)
    .resize(wide, high, { fit: 'fill', kernel: 'cubic' });
  const px = await drawn.raw().toBuffer();
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
