import { lengthWords } from '../../platform/units/measures.ts';

/** A rack as it lies in its tank, seen from above. Lengths in mm; null where they are not known. */
export interface RackPlace {
  rows: number;
  columns: number;
  depthMm: number;
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
}

/** The inside of a tank, in mm. */
export interface TankInside {
  name: string;
  lengthMm: number;
  widthMm: number;
  heightMm: number;
}

/** Racks closer in depth than this cannot lie above each other; own choice: what stands on the lower one needs room. */
const oneLevelMm = 50;

const cm = lengthWords;

/** What is odd about where a rack lies, a sentence each: it sticks out of its tank, or lies where another one lies. */
export function placeConcerns(
  rack: RackPlace,
  tank: TankInside,
  others: readonly (RackPlace & { name: string })[],
): string[] {
  const concerns: string[] = [];
  if (rack.depthMm > tank.heightMm)
    concerns.push(`It hangs ${cm(rack.depthMm)} deep, and ${tank.name} is ${cm(tank.heightMm)} high.`);
  const { slotWidthMm, slotDepthMm } = rack;
  if (slotWidthMm === null || slotDepthMm === null) return concerns;
  const right = (rack.leftMm ?? 0) + rack.columns * slotWidthMm;
  const front = (rack.backMm ?? 0) + rack.rows * slotDepthMm;
  if (right > tank.lengthMm)
    concerns.push(`It ends ${cm(right)} from the left, and ${tank.name} is ${cm(tank.lengthMm)} long.`);
  if (front > tank.widthMm)
    concerns.push(`It ends ${cm(front)} from the back, and ${tank.name} is ${cm(tank.widthMm)} wide.`);
  const mine = areaOf(rack);
  for (const other of others) {
    const theirs = areaOf(other);
    if (mine === null || theirs === null || Math.abs(rack.depthMm - other.depthMm) >= oneLevelMm) continue;
    const wide = Math.min(mine.right, theirs.right) - Math.max(mine.left, theirs.left);
    const deep = Math.min(mine.front, theirs.front) - Math.max(mine.back, theirs.back);
    if (wide > 0 && deep > 0)
      concerns.push(`It overlaps ${other.name} by ${cm(wide)} × ${cm(deep)}, at nearly the same depth.`);
  }
  return concerns;
}

function areaOf({ rows, columns, leftMm, backMm, slotWidthMm, slotDepthMm }: RackPlace) {
  if (leftMm === null || backMm === null || slotWidthMm === null || slotDepthMm === null) return null;
  return {
    left: leftMm,
    right: leftMm + columns * slotWidthMm,
    back: backMm,
    front: backMm + rows * slotDepthMm,
  };
}
