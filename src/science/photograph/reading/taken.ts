import type { Frame } from '../frame.ts';
import { cardMap } from '../frame.ts';
import { project } from '../homography.ts';
import { medianOf } from '../image.ts';
import { stretchAt } from '../plane.ts';

/** What the cards that are seen tell of how a photograph was taken: px a mm, blur and bent sides in mm, tilt in degrees. */
export interface Taken {
  scale: number;
  blur: number;
  bent: number;
  tilt: number;
}

export function takenOf(frames: readonly Frame[]): Taken {
  const stretches = frames.map(({ corners }) => {
    const map = cardMap(corners);
    return stretchAt((at) => project(map, at), MIDDLE);
  });
  return {
    scale: medianOf(stretches.map(({ larger, smaller }) => Math.sqrt(larger * smaller))),
    blur: medianOf(frames.map(({ blur }) => blur)),
    bent: medianOf(frames.map(({ bent }) => bent)),
    tilt: medianOf(
      stretches.map(({ larger, smaller }) => (Math.acos(Math.min(1, smaller / larger)) * 180) / Math.PI),
    ),
  };
}

/** The middle of a card's frame, mm. */
const MIDDLE = { x: 23, y: 23 };
