import { CARD, type CardBox, type Point } from '../card.ts';
import { cardMap, type Frame } from '../frame.ts';
import { project } from '../homography.ts';
import type { Picture } from '../image.ts';
import { LIMITS } from './reasons.ts';

/** A lit card of which this share of the white, or of the dark, is at the top of what the camera can say is not well lit (own choices). */
const [WHITE_CLIPPED, DARK_CLIPPED] = [0.6, 0.04];

/**
 * Why a card is at the top of what the camera can say: all of its white is and nothing dark, where the picture is too bright;
 * what is dark as well, or a part of the card alone, where light is thrown back. Null where little is.
 */
export function clippingOf(picture: Picture, toPixel: (on: Point) => Point): 'bright' | 'glare' | null {
  // In coloured light one colour alone may be at the top: white is not known then. What is thrown back has all of them.
  const white = clippedShare(picture, toPixel, WHITES, 'some');
  const dark = clippedShare(picture, toPixel, DARKS, 'every');
  if (dark > DARK_CLIPPED) return 'glare';
  if (white >= WHITE_CLIPPED) return 'bright';
  const all = clippedShare(picture, toPixel, WHOLE, 'every');
  return white > LIMITS.clipped || all > LIMITS.clipped ? 'glare' : null;
}

/** Why a card is at the top of what the camera can say, by its frame; see `clippingOf`. */
export function clippingAt(picture: Picture, { corners }: Pick<Frame, 'corners'>): 'bright' | 'glare' | null {
  const map = cardMap(corners);
  return clippingOf(picture, (on) => project(map, on));
}

/** The middle of what is white on a card, and of what is dark: its patches, and the line of its frame. */
const { white: WHITE, grey: GREY, black: BLACK } = CARD.patches;
const within = ({ x, y, width, height }: CardBox): CardBox => ({
  ...{ x: x + 2, y: y + 2, width: width - 4, height: height - 4 },
});
const LINES = ((): CardBox[] => {
  const { x, y, width, height } = CARD.frame;
  const [thin, half] = [CARD.line / 2, CARD.line / 4];
  return [
    { x, y: y + half, width, height: thin },
    { x, y: y + height - half - thin, width, height: thin },
    { x: x + half, y, width: thin, height },
    { x: x + width - half - thin, y, width: thin, height },
  ];
})();
const [WHITES, DARKS]: [readonly CardBox[], readonly CardBox[]] = [
  [within(WHITE)],
  [within(GREY), within(BLACK), ...LINES],
];

const WHOLE: readonly CardBox[] = [{ x: 1, y: 1, width: CARD.width - 2, height: CARD.height - 2 }];

/** How much of some parts of a card is at the top of what the camera can say, from 0 to 1. */
function clippedShare(
  { width, height, rgb }: Picture,
  toPixel: (on: Point) => Point,
  boxes: readonly CardBox[],
  colours: 'some' | 'every',
): number {
  let [clipped, all] = [0, 0];
  for (const box of boxes)
    for (let y = box.y + 0.25; y < box.y + box.height; y += 0.5)
      for (let x = box.x + 0.25; x < box.x + box.width; x += 0.5) {
        const { x: px, y: py } = toPixel({ x, y });
        if (px < 0 || py < 0 || px > width - 1 || py > height - 1) continue;
        const at = 3 * (Math.round(py) * width + Math.round(px));
        all++;
        if (rgb.subarray(at, at + 3)[colours]((value) => value >= 252)) clipped++;
      }
  return all === 0 ? 0 : clipped / all;
}
