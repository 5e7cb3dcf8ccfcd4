/** A rectangle on the floor of a room, cm from its back left corner. */
export interface FloorBox {
  leftCm: number;
  backCm: number;
  widthCm: number;
  depthCm: number;
}

/** Furthest that a tank can be from the back left corner of its room, cm (own choice: further off is a slip). */
export const FURTHEST_CM = 10_000;
/** Between tanks that nobody placed, and between the rows of them, cm: about the width of an aisle (own choice). */
const AISLE_CM = 60;
/** A row of tanks that nobody placed ends here, where the placed ones need no more, cm. */
const ROW_CM = 600;

interface Sides {
  lengthMm: number;
  widthMm: number;
}

/** What a tank takes of the floor; turned by a quarter its length runs to the front. */
export function footprint(
  { lengthMm, widthMm }: Sides,
  turned: boolean,
): Pick<FloorBox, 'widthCm' | 'depthCm'> {
  const [length, width] = [Math.max(1, Math.round(lengthMm / 10)), Math.max(1, Math.round(widthMm / 10))];
  return turned ? { widthCm: width, depthCm: length } : { widthCm: length, depthCm: width };
}

/** How far boxes reach from the back left corner, cm. */
export function reach(boxes: readonly FloorBox[]): { widthCm: number; depthCm: number } {
  return {
    widthCm: Math.max(0, ...boxes.map(({ leftCm, widthCm }) => leftCm + widthCm)),
    depthCm: Math.max(0, ...boxes.map(({ backCm, depthCm }) => backCm + depthCm)),
  };
}

/** Spots for tanks that nobody placed: in rows in front of those that are placed, in the order given. */
export function freeSpots(placed: readonly FloorBox[], tanks: readonly Sides[]): FloorBox[] {
  const taken = reach(placed);
  const widest = Math.max(ROW_CM, taken.widthCm);
  let [left, back, deepest] = [0, taken.depthCm === 0 ? 0 : taken.depthCm + AISLE_CM, 0];
  return tanks.map((tank) => {
    const size = footprint(tank, false);
    if (left > 0 && left + size.widthCm > widest) [left, back, deepest] = [0, back + deepest + AISLE_CM, 0];
    const spot = { leftCm: left, backCm: back, ...size };
    left += size.widthCm + AISLE_CM;
    deepest = Math.max(deepest, size.depthCm);
    return spot;
  });
}

const overlap = (a: FloorBox, b: FloorBox) =>
  a.leftCm < b.leftCm + b.widthCm &&
  b.leftCm < a.leftCm + a.widthCm &&
  a.backCm < b.backCm + b.depthCm &&
  b.backCm < a.backCm + a.depthCm;

/** Pairs that cover one another: a slip, or one above the other, which people know. */
export function overlapping<T extends FloorBox>(boxes: readonly T[]): [T, T][] {
  return boxes.flatMap((a, i) =>
    boxes.slice(i + 1).flatMap((b): [T, T][] => (overlap(a, b) ? [[a, b]] : [])),
  );
}
