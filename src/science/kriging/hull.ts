export interface Place {
  x: number;
  y: number;
}

/** Twice the signed area of a triangle: above 0 when it turns left. */
const turn = (a: Place, b: Place, c: Place): number => (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);

/** Corners of the convex hull, counterclockwise; one or two where the places lie on a point or a line (Andrew 1979). */
export function hullOf(places: readonly Place[]): Place[] {
  const sorted = [...places].sort((a, b) => a.x - b.x || a.y - b.y);
  if (sorted.length < 3) return sorted;
  const half = (order: readonly Place[]) => {
    const chain: Place[] = [];
    for (const place of order) {
      while (chain.length > 1 && turn(chain.at(-2) as Place, chain.at(-1) as Place, place) <= 0) chain.pop();
      chain.push(place);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.toReversed())];
}

/** True on the hull's edge and within, past what arithmetic leaves open. */
export function isWithinHull(place: Place, hull: readonly Place[]): boolean {
  const [first, second] = hull;
  if (first === undefined) return false;
  const span = Math.max(...hull.map(({ x, y }) => Math.hypot(x - first.x, y - first.y)));
  const hair = 1e-9 * span * span;
  if (second === undefined) return place.x === first.x && place.y === first.y;
  if (hull.length === 2) {
    const along = (place.x - first.x) * (second.x - first.x) + (place.y - first.y) * (second.y - first.y);
    return Math.abs(turn(first, second, place)) <= hair && along >= -hair && along <= span * span + hair;
  }
  return hull.every((corner, i) => turn(corner, hull[(i + 1) % hull.length] as Place, place) >= -hair);
}
