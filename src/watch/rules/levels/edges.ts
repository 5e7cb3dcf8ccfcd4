/** The edges of a band; infinite where it has none. */
export interface Edges {
  low: number;
  high: number;
}

/** On which side of its band a level stands. */
export type Side = 'below' | 'above';

/** Which edge the level is nearest to or beyond, and how far beyond (negative inside). */
export function nearestEdge(
  value: number,
  { low, high }: Edges,
): { side: Side; distance: number; edge: number } {
  const [under, over] = [low - value, value - high];
  return under > over
    ? { side: 'below', distance: under, edge: low }
    : { side: 'above', distance: over, edge: high };
}
