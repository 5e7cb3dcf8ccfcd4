type Point = [x: number, y: number];
type Segment = [from: Point, to: Point];

/** What lines keep clear of, px. */
export interface Box {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

/** Shorter pieces of a line are no line any more, px; own choice. */
const SHORTEST = 4;

/** The pieces of straight lines that lie outside all boxes, so that no line runs through a figure. */
export function besideBoxes(segments: readonly Segment[], boxes: readonly Box[]): Segment[] {
  return segments.flatMap((segment) => {
    const covered = boxes.flatMap((box) => inside(segment, box) ?? []).sort(([a], [b]) => a - b);
    return piecesOf(segment, covered).filter(([[x, y], [x2, y2]]) => Math.hypot(x2 - x, y2 - y) >= SHORTEST);
  });
}

type Share = [from: number, to: number];

/** The part of a line within a box, as shares of its length (the clipping of Liang and Barsky, 1984); null where it passes by. */
function inside([[x, y], [x2, y2]]: Segment, { left, top, right, bottom }: Box): [Share] | null {
  const [dx, dy] = [x2 - x, y2 - y];
  let [from, to] = [0, 1];
  const edges: [move: number, room: number][] = [
    [-dx, x - left],
    [dx, right - x],
    [-dy, y - top],
    [dy, bottom - y],
  ];
  for (const [move, room] of edges) {
    if (move === 0 && room < 0) return null;
    if (move < 0) from = Math.max(from, room / move);
    if (move > 0) to = Math.min(to, room / move);
  }
  return from < to ? [[from, to]] : null;
}

/** What is left of a line beside the covered shares, which come in their order. */
function piecesOf([[x, y], [x2, y2]]: Segment, covered: readonly Share[]): Segment[] {
  const at = (share: number): Point => [x + share * (x2 - x), y + share * (y2 - y)];
  const pieces: Segment[] = [];
  let free = 0;
  for (const [from, to] of covered) {
    if (from > free) pieces.push([at(free), at(from)]);
    free = Math.max(free, to);
  }
  if (free < 1) pieces.push([at(free), at(1)]);
  return pieces;
}
