import { readFileSync } from 'node:fs';
import { renderAsync } from '@resvg/resvg-js';
import bwip from 'bwip-js';
import sharp from 'sharp';
import { CARD, type CardBox, CORNERS, cardPath, cardPlace } from '../../../src/science/photograph/card.ts';
import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';

/** How wide and deep a slot of the demo's racks is, mm: egg crate, its bars 15 mm apart, two to each side. */
const SLOT = 30;
const [BAR, BARS_APART] = [2, 15];
/** Px a mm, and what is seen of the water around the rack, mm. */
const [FINE, AROUND] = [2.2, 22];
/** The address on the cards: the demo has no other. */
const ADDRESS = 'HTTP://FAROL.EXAMPLE';

/** A piece as it is drawn. */
export interface DrawnPiece {
  /** From 0, from the back left. */
  row: number;
  column: number;
  form: string | null;
  /** Degrees of hue, and strength of colour in per cent. */
  hue: number;
  strength: number;
  /** How far its colour is on the way to white, from 0 to 1. */
  pale: number;
  /** How wide it is, mm. */
  wide: number;
}

/** A rack as one photograph shows it. */
export interface DrawnRack {
  id: string;
  rows: number;
  columns: number;
  pieces: readonly DrawnPiece[];
  /** Of the light and of how the camera was held. */
  seed: number;
}

/** A rack seen from above with its four corner cards, drawn: the demo's stand-in for a photograph. @returns a JPEG */
export async function drawRack(rack: DrawnRack): Promise<Buffer> {
  const drawn = await renderAsync(svgOf(rack), { font: { loadSystemFonts: false } });
  const raw = { width: drawn.width, height: drawn.height, channels: 4 as const };
  return sharp(drawn.pixels, { raw }).flatten({ background: '#000' }).jpeg({ quality: 86 }).toBuffer();
}

function svgOf(rack: DrawnRack): string {
  const random = seededRandom(rack.seed);
  const size = { width: rack.columns * SLOT, depth: rack.rows * SLOT };
  const wide = size.width + 2 * CARD.width + 2 * AROUND;
  const deep = size.depth + 2 * AROUND;
  const [width, height] = [Math.round(wide * FINE), Math.round(deep * FINE)];
  const turn = (random.uniform() - 0.5) * 2.4;
  const hold = `translate(${width / 2} ${height / 2}) rotate(${turn}) scale(${FINE}) translate(${-size.width / 2} ${-size.depth / 2})`;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}">
<rect width="100%" height="100%" fill="#2d4047"/>
<g transform="${hold}">${crate(size)}${CORNERS.map((corner) => {
    const { x, y } = cardPlace(corner, size);
    return `<g transform="translate(${x} ${y})">${card(`${ADDRESS}${cardPath(rack.id, corner)}`)}</g>`;
  }).join('')}${rack.pieces.map((piece) => drawnPiece(piece, random)).join('')}</g>
${lamp(random)}</svg>`;
}

function crate({ width, depth }: { width: number; depth: number }): string {
  const lines = (until: number, across: number, letters: readonly [string, string]) =>
    Array.from(
      { length: Math.floor(until / BARS_APART) + 1 },
      (_, i) =>
        `M${letters[0] === 'V' ? `${i * BARS_APART} 0` : `0 ${i * BARS_APART}`}${letters[0]}${across}`,
    ).join('');
  const bars = lines(width, depth, ['V', 'H']) + lines(depth, width, ['H', 'V']);
  return `<rect width="${width}" height="${depth}" fill="#26363b"/><path d="${bars}" stroke="#c6c3b8" stroke-width="${BAR}"/>`;
}

const box = ({ x, y, width, height }: CardBox, fill: string) =>
  `<rect x="${x}" y="${y}" width="${width}" height="${height}" fill="${fill}"/>`;

/** A printed card; the scale and the name, which nothing reads, are left out. */
function card(address: string): string {
  const { frame, code, patches, line } = CARD;
  const [drawn] = bwip.raw('qrcode', address, 'eclevel=M') as unknown as [{ pixs: number[]; pixx: number }];
  const square = code.width / (drawn.pixx + 8);
  const squares = drawn.pixs.flatMap((dark, i) =>
    dark === 1 ? [`M${4 + (i % drawn.pixx)} ${4 + Math.floor(i / drawn.pixx)}h1v1h-1z`] : [],
  );
  const inside = {
    x: frame.x + line,
    y: frame.y + line,
    width: frame.width - 2 * line,
    height: frame.height - 2 * line,
  };
  return `${box({ x: 0, y: 0, width: CARD.width, height: CARD.height }, '#fff')}${box(frame, TONER)}${box(inside, '#fff')}
<path transform="translate(${code.x} ${code.y}) scale(${square})" d="${squares.join('')}" fill="${TONER}"/>
${box(patches.grey, GREY)}${box(patches.black, TONER)}`;
}

/** Toner gives back some 4 %; the grey is half of sRGB upon it. Both as values of sRGB. */
const [TONER, GREY] = ['#383838', '#868686'];

const drawings = readFileSync(new URL('../../../views/assets/growth-forms.svg', import.meta.url), 'utf8');
const shapes = new Map(
  [...drawings.matchAll(/<symbol id="([^"]+)"[^>]*>(.*?)<\/symbol>/gs)].map(([, id = '', shape = '']) => [
    id,
    shape,
  ]),
);

function drawnPiece({ row, column, form, hue, strength, pale, wide }: DrawnPiece, random: Random): string {
  const shape = shapes.get(form ?? '') ?? shapes.get('plug') ?? '';
  const flesh = towardsWhite(hue, strength, 48, pale);
  const edge = towardsWhite(hue, strength, 27, pale);
  const [x, y] = [(column + 0.5) * SLOT, (row + 0.5) * SLOT];
  // A piece stands as it was put: its turn belongs to its place, a mm of the hand to the day.
  const turn = ((row * 7 + column * 13) % 24) - 12 + (random.uniform() - 0.5) * 2;
  return `<g transform="translate(${x} ${y}) rotate(${turn}) scale(${wide / 88}) translate(-50 -50)">${shape
    .replaceAll('currentColor', edge)
    .replaceAll(/var\(--plate, [^)]*\)/g, flesh)}</g>`;
}

/** The drawn colour of flesh that has lost so much of it. The library that draws takes whole degrees of hue alone. */
const towardsWhite = (hue: number, strength: number, lightness: number, pale: number) =>
  `hsl(${Math.round(hue)}, ${(strength * (1 - pale)).toFixed(1)}%, ${(lightness + (92 - lightness) * pale).toFixed(1)}%)`;

/** The light of one day: its colour, and where the lamp stands. */
function lamp(random: Random): string {
  const cool = 0.9 - 0.12 * random.uniform();
  const tone = (share: number) =>
    `rgb(${[cool, (1 + cool) / 2, 1].map((part) => Math.round(238 * share * part)).join(' ')})`;
  const [x, y] = [40 + 20 * random.uniform(), 30 + 40 * random.uniform()];
  return `<defs><radialGradient id="lamp" cx="${x}%" cy="${y}%" r="75%"><stop offset="0" stop-color="${tone(1)}"/><stop offset="1" stop-color="${tone(0.86)}"/></radialGradient></defs>
<rect width="100%" height="100%" fill="url(#lamp)" style="mix-blend-mode:multiply"/>`;
}
