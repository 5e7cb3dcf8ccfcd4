import { median } from 'd3-array';
import { usualSwing } from '../../water/quantities/usual-swing.ts';
import type { MoveFact, QuantityFact } from './types.ts';

/** Systems of one site of which a quantity went the same way within a day. */
export interface SharedMove {
  code: string;
  side: 'below' | 'above';
  moves: readonly (MoveFact & { by: number })[];
}

/** So many values of the same hour show where it usually stands. */
const fewestBefore = 2;
/** Standard deviations of water and test beyond which one system counts: three at once are rare at that. Own choice. */
const clearSds = 2.5;
/** From so many values of the same hour on their own spread is known, and counts where it is wider than the usual one. */
const fewestForSpread = 5;
/** Standard deviation of a normal distribution over the middle of its absolute deviations. */
const normalPerMad = 1.4826;
/** The same where fewer systems were read than make it one matter elsewhere, so that all of them have to say so. */
const clearSdsOfFew = 3;
/** One system moves with nobody. */
const fewestAtAll = 2;
/** A move that is said to be shared at all, canonical; own choice, as on the pages for emergencies. */
const leastMoves: Readonly<Record<string, number>> = {
  ph: 0.1,
  temperature: 0.7,
  salinity: 0.5,
  alkalinity: 0.18,
  oxygen: 0.7,
};

/** The farm's habits move some systems at any time: half of those that were read have to go the same way. Own choice. */
const leastShare = 0.5;

/**
 * What went the same way in several systems of one site: at least so many, and half of those read within the day. Where
 * fewer were read, all of them, each by more.
 *
 * @param moves of one site
 */
export function movingTogether(
  moves: readonly MoveFact[],
  quantities: ReadonlyMap<string, QuantityFact>,
  fewest: number,
): SharedMove[] {
  return [...Map.groupBy(moves, ({ code }) => code)].flatMap(([code, all]) => {
    const quantity = quantities.get(code);
    if (quantity === undefined) return [];
    const judged = all.flatMap((move) => {
      const usual = move.before.length < fewestBefore ? undefined : median(move.before);
      return usual === undefined
        ? []
        : [{ ...move, by: move.value - usual, spread: spreadOf(move.before, usual) }];
    });
    const needed = Math.min(fewest, judged.length);
    if (needed < fewestAtAll) return [];
    const sds = needed < fewest ? clearSdsOfFew : clearSds;
    const clear = judged.filter(({ by, u, value, spread }) => {
      const sd = Math.max(Math.hypot(u, usualSwing(code, value, quantity)), spread);
      return Math.abs(by) >= Math.max(leastMoves[code] ?? Infinity, sds * sd);
    });
    return (['below', 'above'] as const).flatMap((side) => {
      const same = clear.filter(({ by }) => by < 0 === (side === 'below'));
      const enough = same.length >= needed && same.length >= leastShare * judged.length;
      return enough ? [{ code, side, moves: same }] : [];
    });
  });
}

/** How far a system's own values of this hour scatter, whatever is usual; 0 where they are too few to say. */
const spreadOf = (before: readonly number[], usual: number): number =>
  before.length < fewestForSpread
    ? 0
    : normalPerMad * (median(before.map((value) => Math.abs(value - usual))) ?? 0);
