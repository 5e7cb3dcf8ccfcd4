import { cardMap, type Frame } from './frame.ts';
import { project } from './homography.ts';
import { brightnessAt, clamp, LINEAR, medianOf, type Picture } from './image.ts';
import { stretchAt } from './plane.ts';

/** What keeps the codes of cards from being found. */
type Hidden = 'blurred' | 'dark' | 'blue' | 'small' | 'tilted' | 'waves';

/** What is compared with the limits of `read.ts`. */
interface Limits {
  dark: number;
  blue: number;
  blur: number;
  scale: number;
  tilt: number;
  bent: number;
}

/**
 * Why not all codes of a rack's cards were found, by the cards that were and by the picture as a whole.
 * @param frames of the cards that were found
 * @returns null where nothing is wrong but that they are not there
 */
export function whyHidden(picture: Picture, frames: readonly Frame[], limits: Limits): Hidden | null {
  const light = brightest(picture);
  if (Math.max(...light) < limits.dark) return 'dark';
  if (light[0] < limits.blue * light[2]) return 'blue';
  if (edgeBlur(picture) > BLURRED_PX) return 'blurred';
  if (frames.length === 0) return null;
  const stretches = frames.map(({ corners }) => {
    const map = cardMap(corners);
    return stretchAt((at) => project(map, at), MIDDLE);
  });
  if (medianOf(stretches.map(({ larger, smaller }) => Math.sqrt(larger * smaller))) < limits.scale)
    return 'small';
  if (medianOf(frames.map(({ blur }) => blur)) > limits.blur) return 'blurred';
  const tilts = stretches.map(
    ({ larger, smaller }) => (Math.acos(Math.min(1, smaller / larger)) * 180) / Math.PI,
  );
  if (medianOf(tilts) > limits.tilt) return 'tilted';
  return medianOf(frames.map(({ bent }) => bent)) > limits.bent ? 'waves' : null;
}

/** The middle of a card's frame, mm. */
const MIDDLE = { x: 23, y: 23 };
/** Edges of a picture in which nothing is sharper than this are too soft for a code, px (own choice: a square of it has some 3). */
const BLURRED_PX = 2;

/** The light of the brightest hundredth of a picture: the white of cards is among it, where any is in the picture. */
function brightest({ width, height, rgb }: Picture): [number, number, number] {
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
function edgeBlur(picture: Picture): number {
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
