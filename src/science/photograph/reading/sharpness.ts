import { brightnessAt, clamp, LINEAR, medianOf, type Picture } from '../image.ts';

/** The light of the brightest hundredth of a picture: the white of cards is among it, where any is in the picture. */
export function brightest({ width, height, rgb }: Picture): [number, number, number] {
  const px: { at: number; sum: number }[] = [];
  const step = Math.max(1, Math.round(Math.sqrt((width * height) / 40_000)));
  for (let y = 0; y < height; y += step)
    for (let x = 0; x < width; x += step) {
      const at = 3 * (y * width + x);
      px.push({ at, sum: (rgb[at] as number) + (rgb[at + 1] as number) + (rgb[at + 2] as number) });
    }
  const top = px.sort((a, b) => b.sum - a.sum).slice(0, Math.ceil(px.length / 100));
  const of = (k: number) => medianOf(top.map(({ at }) => LINEAR[rgb[at + k] as number] as number));
  return [of(0), of(1), of(2)];
}

/** How wide a stretch of a row is in which an edge is looked for, px, and from which contrast on it counts (own choices). */
const [STRETCH, LEAST_CONTRAST] = [24, 0.12];

/**
 * How soft the sharpest edges of a picture are: the standard deviation of the blur, px (a step blurred by a normal curve is
 * steepest by contrast / (sigma sqrt(2 pi))). 0 where it has no edges.
 */
export function edgeBlur(picture: Picture): number {
  const { width, height } = picture;
  const found: number[] = [];
  const rows = Math.max(1, Math.round(height / 120));
  for (let y = rows; y < height; y += rows)
    for (let left = 0; left + STRETCH < width; left += STRETCH) {
      const cut = Array.from({ length: STRETCH }, (_, i) =>
        brightnessAt(picture, { x: left + i, y: clamp(y, 0, height - 1) }),
      );
      const contrast = Math.max(...cut) - Math.min(...cut);
      if (contrast < LEAST_CONTRAST) continue;
      const steepest = Math.max(...cut.slice(1).map((value, i) => Math.abs(value - (cut[i] as number))));
      found.push(contrast / (steepest * Math.sqrt(2 * Math.PI)));
    }
  return found.length < 20 ? 0 : (found.toSorted((a, b) => a - b)[Math.floor(found.length / 10)] as number);
}
