import type { Point } from './card.ts';
import type { Plane } from './plane.ts';

/** Where the camera stood above a rack, mm from its back left corner, as if there were no water. */
export interface CameraPlace extends Point {
  height: number;
}

/**
 * Where the camera stood, by how the rack's plane lies in the picture (Zhang 2000: the columns of a homography are those of a
 * turn and a shift, through the camera's own scale).
 * @param focal of the camera, px
 */
export function cameraPlace(
  { toPixel, width, depth }: Plane,
  picture: { width: number; height: number },
  focal: number,
): CameraPlace {
  const on = (x: number, y: number) => {
    const at = toPixel({ x, y });
    return [(at.x - picture.width / 2) / focal, (at.y - picture.height / 2) / focal] as const;
  };
  // The rays to the rack's four corners, and how long each is: the corners are those of a parallelogram.
  const rays = [on(0, 0), on(width, 0), on(0, depth), on(width, depth)].map(([u, v]) => [u, v, 1] as const);
  const [a, b, c, d] = rays as [Ray, Ray, Ray, Ray];
  // With the first ray as long as it is, a + ld d = lb b + lc c (Cramer's rule).
  const whole = determinant(b, c, d);
  const [lb, lc] = [determinant(a, c, d) / whole, determinant(b, a, d) / whole];
  const across = minus(scaled(b, lb), a);
  const forward = minus(scaled(c, lc), a);
  const unit = (length(across) / width + length(forward) / depth) / 2;
  const along = (axis: Ray) => -dot(a, axis) / (length(axis) * unit);
  const normal = cross(across, forward);
  return {
    x: along(across),
    y: along(forward),
    height: Math.abs(dot(a, normal) / (length(normal) * unit)),
  };
}

type Ray = readonly [number, number, number];
const dot = (a: Ray, b: Ray) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const length = (a: Ray) => Math.sqrt(dot(a, a));
const minus = (a: Ray, b: Ray): Ray => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const scaled = (a: Ray, by: number): Ray => [a[0] * by, a[1] * by, a[2] * by];
const cross = (a: Ray, b: Ray): Ray => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
const determinant = (a: Ray, b: Ray, c: Ray) => dot(a, cross(b, c));

/** How high corals of a kind grow, against how wide they are. */
export interface HeightShare {
  low: number;
  high: number;
}

/** A planar area with the interval that holds it nine times in ten, mm2. */
export interface PlanarArea {
  area: number;
  low: number;
  high: number;
}

/** Where the camera's place is not known: the lowest it is thought to be, mm, and the most it looks from the side (own choices). */
const UNKNOWN = { height: 500, slope: 0.4 };

/**
 * The area a coral covers, out of what is seen of it on the rack's plane. What stands above the plane is nearer to the camera,
 * and shows a side where the camera is not straight above it: both make it larger. How much is taken from how high its kind
 * grows, between a dome (an ellipse's shadow) and a pillar.
 * @param seen mm2 on the rack's plane
 * @param uncertainty of what is seen, as a share
 * @param from the camera's place; null where it is not known
 */
export function planarArea(
  seen: { area: number; uncertainty: number; middle: Point },
  share: HeightShare,
  from: CameraPlace | null,
): PlanarArea {
  const wide = 2 * Math.sqrt(seen.area / Math.PI);
  const [lift, slope] =
    from === null
      ? [UNKNOWN.height, UNKNOWN.slope]
      : [from.height, Math.hypot(seen.middle.x - from.x, seen.middle.y - from.y) / from.height];
  const dome = (tall: number) => Math.sqrt(1 + (2 * tall * slope) ** 2) * (1 + (tall * wide) / lift);
  const pillar = (tall: number) => (1 + (4 / Math.PI) * tall * slope) * (1 + (2 * tall * wide) / lift);
  const least = from === null ? 1 : dome(share.low);
  const most = pillar(share.high);
  const middle =
    from === null ? 1 : (pillar((share.low + share.high) / 2) + dome((share.low + share.high) / 2)) / 2;
  const off = 1.645 * seen.uncertainty;
  return {
    area: seen.area / middle,
    low: (seen.area / most) * (1 - off),
    high: (seen.area / least) * (1 + off),
  };
}
