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
  const light = new Float32Array(3 * width * height);
  const clipped = new Uint8Array(width * height);
  const fine = clamp(Math.round(scale / pxPerMm), 1, 3);
  const place = (x: number, y: number) => toPixel({ x: box.x + x / pxPerMm, y: box.y + y / pxPerMm });
  const sum = new Float64Array(4);
  for (let top = 0; top < height; top += TILE) {
    for (let left = 0; left < width; left += TILE) {
      const [a, b] = [place(left, top), place(left + TILE, top)];
      const [c, d] = [place(left, top + TILE), place(left + TILE, top + TILE)];
      for (let y = top; y < Math.min(height, top + TILE); y++) {
        for (let x = left; x < Math.min(width, left + TILE); x++) {
          sum.fill(0);
          for (let i = 0; i < fine * fine; i++) {
            const right = (x - left + ((i % fine) + 0.5) / fine) / TILE;
            const down = (y - top + (Math.floor(i / fine) + 0.5) / fine) / TILE;
            const along = (p: number, q: number, r: number, s: number) =>
              (p * (1 - right) + q * right) * (1 - down) + (r * (1 - right) + s * right) * down;
            addAt(picture, along(a.x, b.x, c.x, d.x), along(a.y, b.y, c.y, d.y), sum);
          }
          const at = y * width + x;
          for (let k = 0; k < 3; k++) light[3 * at + k] = (sum[k] ?? 0) / (fine * fine);
          clipped[at] = (sum[3] ?? 0) > 0 ? 1 : 0;
        }
      }
    }
  }
  return { width, height, light, clipped };
}

/** Adds the light at a place between pixels, and whether any of the four is clipped. The middle of a px is at its half. */
function addAt({ width, height, rgb }: Picture, x: number, y: number, sum: Float64Array): void {
  const [px, py] = [clamp(x, 0, width - 1.001), clamp(y, 0, height - 1.001)];
  const [left, top] = [Math.floor(px), Math.floor(py)];
  const [right, down] = [px - left, py - top];
  const first = 3 * (top * width + left);
  const below = first + 3 * width;
  const shares = [(1 - right) * (1 - down), right * (1 - down), (1 - right) * down, right * down];
  const starts = [first, first + 3, below, below + 3];
  for (let corner = 0; corner < 4; corner++) {
    const share = shares[corner] as number;
    const start = starts[corner] as number;
    for (let k = 0; k < 3; k++) {
      const value = rgb[start + k] as number;
      sum[k] = (sum[k] as number) + share * (LINEAR[value] as number);
      if (value >= CLIPPED && share > 0.01) sum[3] = 1;
    }
  }
}
