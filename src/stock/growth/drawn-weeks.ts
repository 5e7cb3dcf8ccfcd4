import { createHash } from 'node:crypto';
import { type Expected, expectedPiecesInTurns, type GrowingLot } from './forecast.rules.ts';

/** Last days of the weeks that are told. */
export const WEEKS = Array.from({ length: 12 }, (_, i) => 7 * (i + 1));

/** Farms whose weeks are kept, at most: some hundred bytes each (own choice). */
const mostKept = 100;

const kept = new Map<string, Promise<Expected[]>>();

/**
 * Pieces expected in each of the weeks. They are drawn once for the same lots: who looks again within the hour, by which
 * ages are told, is answered by the same draws.
 */
export function drawnWeeks(growing: readonly GrowingLot[]): Promise<Expected[]> {
  const key = createHash('sha256').update(JSON.stringify(growing)).digest('base64');
  const drawn = kept.get(key) ?? expectedPiecesInTurns(growing, WEEKS);
  // Asked for last, it goes last.
  kept.delete(key);
  kept.set(key, drawn);
  for (const [oldest] of kept) {
    if (kept.size <= mostKept) break;
    kept.delete(oldest);
  }
  return drawn;
}
