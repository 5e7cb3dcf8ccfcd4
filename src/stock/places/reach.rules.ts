/** The middle of a slot, mm. */
export interface SlotPosition {
  /** The coordinate system: distances are known only between slots of one frame. */
  frame: string;
  x: number;
  y: number;
  z: number;
}

/** What decides how near another lot may stand. */
export interface LotReach {
  kindId: string;
  /** How far it reaches beyond its own edge, mm; 0 where nobody states it. */
  reachMm: number;
  /** How wide a piece is, mm. */
  sizeMm: number;
}

/** The width assumed of a piece that nobody measured, mm (own choice). */
export const ASSUMED_SIZE_MM = 30;
/** The width assumed of a slot where the rack does not state it, mm (own choice). */
export const ASSUMED_PITCH_MM = 60;

/** The distance between the middles of two slots; Infinity between frames. */
export function slotDistance(a: SlotPosition, b: SlotPosition): number {
  if (a.frame !== b.frame) return Number.POSITIVE_INFINITY;
  const [x, y, z] = [a.x - b.x, a.y - b.y, a.z - b.z];
  return Math.sqrt(x * x + y * y + z * z);
}

/** The gap that two lots need between their edges, mm: the longer reach; none between lots of one kind (common practice). */
export function requiredGap(a: LotReach, b: LotReach): number {
  return a.kindId === b.kindId ? 0 : Math.max(a.reachMm, b.reachMm);
}

/** True when two lots this far apart (middle to middle) would reach each other. */
export function inReach(a: LotReach, b: LotReach, distance: number): boolean {
  const needed = requiredGap(a, b);
  return needed > 0 && distance - (a.sizeMm + b.sizeMm) / 2 < needed;
}

/** For each slot the others within a distance, by number. */
export function slotsWithin(
  spots: readonly SlotPosition[],
  withinMm: number,
): { slot: number; distance: number }[][] {
  const near: { slot: number; distance: number }[][] = spots.map(() => []);
  const frames = Map.groupBy(spots.keys(), (i) => (spots[i] as SlotPosition).frame);
  for (const unsorted of frames.values()) {
    // Sorted from left to right, so that the search stops at the first slot too far to the right.
    const frame = unsorted.sort((a, b) => (spots[a] as SlotPosition).x - (spots[b] as SlotPosition).x);
    for (const [at, i] of frame.entries()) {
      for (let k = at + 1; k < frame.length; k++) {
        const j = frame[k] as number;
        if ((spots[j] as SlotPosition).x - (spots[i] as SlotPosition).x > withinMm) break;
        const distance = slotDistance(spots[i] as SlotPosition, spots[j] as SlotPosition);
        if (distance > withinMm) continue;
        near[i]?.push({ slot: j, distance });
        near[j]?.push({ slot: i, distance });
      }
    }
  }
  return near;
}
