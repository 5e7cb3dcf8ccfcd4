/** Where the middle of a slot is, mm; slots of one frame can be measured against each other. */
export interface Spot {
  frame: string;
  x: number;
  y: number;
  z: number;
}

/** What of a lot decides how near another may stand. */
export interface Reacher {
  kindId: string;
  /** How far it reaches beyond its own edge, mm; 0 where nobody states it. */
  reachMm: number;
  /** How wide a piece is, mm. */
  sizeMm: number;
}

/** How wide a piece is taken to be where nobody measured it, mm (own choice). */
export const USUAL_SIZE_MM = 30;
/** How wide a slot is taken to be where the rack does not say, mm (own choice). */
export const USUAL_PITCH_MM = 60;

/** The distance between the middles of two slots; Infinity between frames. */
export function spotDistance(a: Spot, b: Spot): number {
  if (a.frame !== b.frame) return Number.POSITIVE_INFINITY;
  const [x, y, z] = [a.x - b.x, a.y - b.y, a.z - b.z];
  return Math.sqrt(x * x + y * y + z * z);
}

/** The water that two lots need between their edges: the longer reach, and none among their own kind (common practice). */
export function neededGap(a: Reacher, b: Reacher): number {
  return a.kindId === b.kindId ? 0 : Math.max(a.reachMm, b.reachMm);
}

/** True when two lots this far apart (middle to middle) would reach each other. */
export function inReach(a: Reacher, b: Reacher, distance: number): boolean {
  const needed = neededGap(a, b);
  return needed > 0 && distance - (a.sizeMm + b.sizeMm) / 2 < needed;
}

/** Which slots lie near which: for each the others within a distance. */
export function nearSpots(spots: readonly Spot[], withinMm: number): { slot: number; distance: number }[][] {
  const near: { slot: number; distance: number }[][] = spots.map(() => []);
  const frames = Map.groupBy(spots.keys(), (i) => (spots[i] as Spot).frame);
  for (const unsorted of frames.values()) {
    // From left to right, so that for each only those within the distance across are looked at.
    const frame = unsorted.sort((a, b) => (spots[a] as Spot).x - (spots[b] as Spot).x);
    for (const [at, i] of frame.entries()) {
      for (let k = at + 1; k < frame.length; k++) {
        const j = frame[k] as number;
        if ((spots[j] as Spot).x - (spots[i] as Spot).x > withinMm) break;
        const distance = spotDistance(spots[i] as Spot, spots[j] as Spot);
        if (distance > withinMm) continue;
        near[i]?.push({ slot: j, distance });
        near[j]?.push({ slot: i, distance });
      }
    }
  }
  return near;
}
