import type { CardBox, Point } from './card.ts';
import { clamp, LINEAR, type Picture } from './image.ts';

/** A part of a rack seen straight from above, in linear light. */
export interface Straight {
  width: number;
  height: number;
  /** Three values a px, red, green and blue, from 0 to 1. */
  light: Float32Array;
  /** 1 where a value was at the top of what the camera can say. */
  clipped: Uint8Array;
}

/** Values of a picture from here on say only "at least this bright" (own choice). */
const CLIPPED = 252;
/** The way from rack to picture is worked out at every so many px and drawn straight between (error below 0.01 px). */
const TILE = 8;

/**
 * Draws a part of a rack straight from above. Each px is the mean, in linear light, of the picture beneath it.
 * @param box mm on the rack
 * @param pxPerMm of what is drawn
 * @param scale px a mm of the picture
 */
export function straighten(
  picture: Picture,
  toPixel: (on: Point) => Point,
  box: CardBox,
  pxPerMm: number,
  scale: number,
): Straight {
  const [width, height] = [Math.round(box.width * pxPerMm), Math.round(box.height * pxPerMm)];
  const drawn = {
    ...{ width, height },
    light: new Float32Array(3 * width * height),
    clipped: new Uint8Array(width * height),
  };
  const fine = clamp(Math.round(scale / pxPerMm), 1, 3);
  const place = (x: number, y: number) => toPixel({ x: box.x + x / pxPerMm, y: box.y + y / pxPerMm });
  const lefts = Array.from({ length: Math.ceil(width / TILE) + 1 }, (_, i) => i * TILE);
  let above = lefts.map((left) => place(left, 0));
  for (let top = 0; top < height; top += TILE) {
    const below = lefts.map((left) => place(left, top + TILE));
    for (let i = 0; i + 1 < lefts.length; i++) {
      const corners = [above[i], above[i + 1], below[i], below[i + 1]] as [Point, Point, Point, Point];
      drawTile(picture, drawn, { left: i * TILE, top, corners, fine });
    }
    above = below;
  }
  return drawn;
}

/** Draws a square of px whose corners lie at these places of the picture. */
function drawTile(
  picture: Picture,
  drawn: Straight,
  tile: { left: number; top: number; corners: [Point, Point, Point, Point]; fine: number },
): void {
  const { left, top, fine } = tile;
  const [a, b, c, d] = tile.corners;
  const [rows, columns] = [Math.min(TILE, drawn.height - top), Math.min(TILE, drawn.width - left)];
  const share = 1 / (fine * fine);
  for (let y = 0; y < rows * fine; y++) {
    const down = (y + 0.5) / fine / TILE;
    const [fromX, fromY] = [a.x + (c.x - a.x) * down, a.y + (c.y - a.y) * down];
    const stepX = (b.x + (d.x - b.x) * down - fromX) / fine / TILE;
    const stepY = (b.y + (d.y - b.y) * down - fromY) / fine / TILE;
    const row = (top + Math.floor(y / fine)) * drawn.width + left;
    for (let x = 0; x < columns * fine; x++) {
      const at = row + Math.floor(x / fine);
      const [px, py] = [fromX + stepX * (x + 0.5), fromY + stepY * (x + 0.5)];
      // Where several px lie beneath one, the nearest to each of its parts will do.
      if (fine === 1) addBetween(picture, px, py, drawn, at);
      else addNearest(picture, px, py, drawn, at, share);
    }
  }
}

function addNearest(
  { width, height, rgb }: Picture,
  x: number,
  y: number,
  drawn: Straight,
  at: number,
  share: number,
): void {
  const px = Math.min(width - 1, Math.max(0, Math.round(x)));
  const py = Math.min(height - 1, Math.max(0, Math.round(y)));
  addPx(rgb, 3 * (py * width + px), drawn, at, share);
}

/** Adds the light at a place between px, whose middles are at whole numbers. */
function addBetween(
  { width, height, rgb }: Picture,
  x: number,
  y: number,
  drawn: Straight,
  at: number,
): void {
  const px = Math.min(width - 1.001, Math.max(0, x));
  const py = Math.min(height - 1.001, Math.max(0, y));
  const left = Math.floor(px);
  const top = Math.floor(py);
  const right = px - left;
  const down = py - top;
  const first = 3 * (top * width + left);
  const below = first + 3 * width;
  addPx(rgb, first, drawn, at, (1 - right) * (1 - down));
  addPx(rgb, first + 3, drawn, at, right * (1 - down));
  addPx(rgb, below, drawn, at, (1 - right) * down);
  addPx(rgb, below + 3, drawn, at, right * down);
}

/** Adds a share of a px to px number `at` of what is drawn, and whether it is clipped. */
function addPx(
  rgb: Uint8Array,
  start: number,
  { light, clipped }: Straight,
  at: number,
  share: number,
): void {
  const r = rgb[start] as number;
  const g = rgb[start + 1] as number;
  const b = rgb[start + 2] as number;
  const to = 3 * at;
  light[to] = (light[to] as number) + share * (LINEAR[r] as number);
  light[to + 1] = (light[to + 1] as number) + share * (LINEAR[g] as number);
  light[to + 2] = (light[to + 2] as number) + share * (LINEAR[b] as number);
  if ((r >= CLIPPED || g >= CLIPPED || b >= CLIPPED) && share > 0.01) clipped[at] = 1;
}
