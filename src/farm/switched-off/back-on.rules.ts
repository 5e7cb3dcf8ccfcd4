import type { OffThing } from '../../generated/prisma/client.ts';

/** A temperature at a time (any unit of time), degC. */
interface Point {
  at: number;
  value: number;
}

/** A turn of the temperature that is more than its readings' error, degC; own choice. */
const leastTurn = 0.3;

/** Which way the temperature goes when the thing runs again. */
const ways: Readonly<Partial<Record<OffThing, 1 | -1>>> = { heating: 1, cooling: -1 };

/**
 * Whether the temperature tells that a heater or cooler runs again: since it went off it turned, and goes its way by more
 * than the readings' error. A hint to go and look: only somebody who sees it running ends what is off.
 *
 * @param points read since it went off, oldest first
 * @returns the turn and the last reading; null where they do not tell
 */
export function backOn(thing: OffThing, points: readonly Point[]): { turn: Point; last: Point } | null {
  const way = ways[thing];
  const last = points.at(-1);
  if (way === undefined || last === undefined) return null;
  const turn = points.reduce((far, point) => (way * point.value < way * far.value ? point : far), last);
  return way * (last.value - turn.value) >= leastTurn ? { turn, last } : null;
}
