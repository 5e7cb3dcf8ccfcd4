import type { Point } from './card.ts';
import { linearOf } from './colour.ts';

/** A picture: red, green and blue of sRGB from 0 to 255, row by row from the upper left. */
export interface Picture {
  width: number;
  height: number;
  rgb: Uint8Array;
}

/** Linear light for each of the 256 values of sRGB. */
export const LINEAR = Float32Array.from({ length: 256 }, (_, value) => linearOf(value / 255));

/** Brightness at a place between pixels, linear light from 0 to 1; the picture's edge goes on beyond it. */
export function brightnessAt(of: Picture, { x, y }: Point): number {
  const [left, top] = [Math.floor(x), Math.floor(y)];
  const [right, down] = [x - left, y - top];
  return (
    brightnessOf(of, left, top) * (1 - right) * (1 - down) +
    brightnessOf(of, left + 1, top) * right * (1 - down) +
    brightnessOf(of, left, top + 1) * (1 - right) * down +
    brightnessOf(of, left + 1, top + 1) * right * down
  );
}

function brightnessOf({ width, height, rgb }: Picture, x: number, y: number): number {
  const at = 3 * (clamp(y, 0, height - 1) * width + clamp(x, 0, width - 1));
  const [r, g, b] = [LINEAR[rgb[at] ?? 0], LINEAR[rgb[at + 1] ?? 0], LINEAR[rgb[at + 2] ?? 0]];
  return 0.2126 * (r ?? 0) + 0.7152 * (g ?? 0) + 0.0722 * (b ?? 0);
}

export const clamp = (value: number, low: number, high: number): number =>
  Math.min(high, Math.max(low, value));

/** One colour of some px (of three values each), as many of them as suffice for a median. */
export function channelOf(values: Float32Array, px: readonly number[] | Int32Array, k: number): Float32Array {
  const step = Math.max(1, Math.floor(px.length / ENOUGH));
  const of = new Float32Array(Math.ceil(px.length / step));
  for (let i = 0; i < of.length; i++) of[i] = values[3 * (px[i * step] as number) + k] as number;
  return of;
}

/** So many px tell a median well enough (own choice). */
const ENOUGH = 500;

/** The middle of some numbers; NaN of none. */
export function medianOf(values: readonly number[] | Float32Array): number {
  const sorted = new Float64Array(values).sort();
  const half = sorted.length >> 1;
  const upper = sorted[half] ?? Number.NaN;
  return sorted.length % 2 === 1 ? upper : (upper + (sorted[half - 1] ?? upper)) / 2;
}
