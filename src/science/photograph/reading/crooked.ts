import { CORNERS, type Point } from '../card.ts';
import type { Picture } from '../image.ts';
import { type FoundFrames, fitPlane, isEnough, type Plane } from '../plane.ts';
import { LIMITS, type NotRead } from './reasons.ts';
import type { Taken } from './taken.ts';

/** The same of too few cards for a plane. */
export function crookedCards({ bent, tilt }: Taken): NotRead | null {
  if (bent > LIMITS.bent) return { why: 'waves' };
  return tilt > LIMITS.tilt ? { why: 'tilted' } : null;
}

/**
 * What makes cards lie where no flat rack has them: a lens, where a free one explains it; water that moves, where it draws single
 * cards out too; else a card that lies wrong. A view from the side is judged last, since each of these looks like one.
 */
export function whyCrooked(
  plane: Plane,
  { bent, tilt }: Pick<Taken, 'bent' | 'tilt'>,
  found: FoundFrames,
  picture: Picture,
): NotRead | null {
  const isFlat = plane.residual <= LIMITS.residual && plane.width > 0 && plane.depth > 0;
  if (plane.residual > DOUBTED || !isFlat || bent > LIMITS.bent || Math.abs(plane.bend) > LIMITS.lens) {
    const free = fitPlane(found, picture, 'free');
    const isLens = free.residual <= LIMITS.residual / 2 && Math.abs(free.bend) > LIMITS.lens;
    // Two more numbers make any fit a little better: four cards of an ordinary lens lose a fifth of their residuals to them.
    if (isLens && (!isFlat || free.residual < EXPLAINED * plane.residual)) return { why: 'lens' };
    if (isFlat && bent <= LIMITS.bent && Math.abs(plane.bend) > LIMITS.lens) return { why: 'lens' };
    if (bent > LIMITS.bent) return { why: 'waves' };
    if (!isFlat) return { why: isDrawnOut(found, picture) ? 'waves' : 'askew' };
  }
  if (plane.tilt <= LIMITS.tilt) return null;
  // Seen from the side each card is as narrow as the rack; where only their places say so, water moved them.
  return { why: tilt > OWN_TILT * LIMITS.tilt ? 'tilted' : 'waves' };
}

/**
 * From these residuals on, mm, it is asked whether a lens explains them, and it does where a free one leaves less than such a
 * share of them (own choices: cards fixed by hand leave 0.2 to 0.6 mm, of which a free lens leaves 0.75 to 1).
 */
const [DOUBTED, EXPLAINED] = [0.4, 0.65];

/** How much of a tilt single cards show at least (own choice). */
const OWN_TILT = 0.75;

/** From here on single cards are drawn out unlike each other as water does it, or where three of four fit well (own choices). */
const DRAWN_OUT = { usual: 0.055, oneAskew: 0.12 };

/** Whether cards are drawn out: water does that as it moves them; one that is fixed askew stays square, seen aslant a little less. */
function isDrawnOut(found: FoundFrames, picture: Picture): boolean {
  const unlike = unlikeOf(Object.values(found));
  return unlike > DRAWN_OUT.oneAskew || (unlike > DRAWN_OUT.usual && !isOneAskew(found, picture));
}

/** Whether three of four cards lie well, and the fourth does not. */
function isOneAskew(found: FoundFrames, picture: Picture): boolean {
  return CORNERS.some((corner) => {
    const { [corner]: left, ...three } = found;
    return left !== undefined && isEnough(three) && fitPlane(three, picture).residual <= LIMITS.residual / 2;
  });
}

/** How unlike frames are drawn out: the most that the logarithms of width against height, or the angles of their corners, differ. */
function unlikeOf(frames: readonly (readonly Point[])[]): number {
  const shapes = frames.map((corners) => {
    const [a, b, c, d] = corners as [Point, Point, Point, Point];
    const [rightX, rightY] = [b.x + c.x - a.x - d.x, b.y + c.y - a.y - d.y];
    const [downX, downY] = [d.x + c.x - a.x - b.x, d.y + c.y - a.y - b.y];
    const [wide, high] = [Math.hypot(rightX, rightY), Math.hypot(downX, downY)];
    return {
      drawn: Math.log(wide / high),
      sheared: Math.asin((rightX * downX + rightY * downY) / (wide * high)),
    };
  });
  const range = (values: readonly number[]) => Math.max(...values) - Math.min(...values);
  return Math.max(range(shapes.map(({ drawn }) => drawn)), range(shapes.map(({ sheared }) => sheared)));
}
