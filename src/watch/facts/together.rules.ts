import { mean, median } from 'd3-array';
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
/** The same where more were read than have to go along, since chance then has more to choose from. */
const clearSdsOfSome = 2.8;
/** The same at once where fewer systems were read than make it one matter elsewhere: two slips on one day are not that rare. */
const clearSdsOfFew = 4;
/**
 * Such systems count as well from the second value on that side on, where today's and the one before are each off by so
 * much, and all by so much in the mean. Both by simulation (`npm run bench:detect`).
 */
const [againSds, againMeanSds] = [1.5, 2.75];
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

/** One system's newest value beside its usual one, and how far both lie apart, in standard deviations of water and test. */
type Judged = MoveFact & { by: number; sds: number; sdsBefore: number; sd: number };

/**
 * What went the same way in several systems of one site: at least so many, and half of those read within the day. Where
 * fewer were read, all of them, each by far more or for the second time running.
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
    const judged = all.map((move) => judge(move, quantity)).filter((one) => one !== null);
    const needed = Math.min(fewest, judged.length);
    if (needed < fewestAtAll) return [];
    const moved = judged.filter(({ by }) => Math.abs(by) >= (leastMoves[code] ?? Infinity));
    return (['below', 'above'] as const).flatMap((side) => {
      const onSide = moved.filter(({ by }) => by < 0 === (side === 'below'));
      const same =
        needed < fewest
          ? clearOfFew(onSide.map(asLoose(judged)), side)
          : onSide.filter(({ sds }) => Math.abs(sds) >= (judged.length > needed ? clearSdsOfSome : clearSds));
      const enough = same.length >= needed && same.length >= leastShare * judged.length;
      return enough ? [{ code, side, moves: same }] : [];
    });
  });
}

/** Few values tell one system's spread poorly: of few systems each is taken for as loose as they are in the mean at least. */
const asLoose =
  (judged: readonly Judged[]) =>
  (one: Judged): Judged => {
    const factor = one.sd / Math.max(one.sd, mean(judged, ({ sd }) => sd) ?? 0);
    return { ...one, sds: one.sds * factor, sdsBefore: one.sdsBefore * factor };
  };

/** All of them or none. */
function clearOfFew(moved: readonly Judged[], side: SharedMove['side']): readonly Judged[] {
  const sign = side === 'below' ? -1 : 1;
  const values = moved.flatMap(({ sds, sdsBefore }) => [sign * sds, sign * sdsBefore]);
  const isAtOnce = moved.every(({ sds }) => sign * sds >= clearSdsOfFew);
  const isAgain = values.every((sds) => sds >= againSds) && (mean(values) ?? 0) >= againMeanSds;
  return isAtOnce || isAgain ? moved : [];
}

function judge(move: MoveFact, quantity: QuantityFact): Judged | null {
  const { code, before, value, u } = move;
  const usual = before.length < fewestBefore ? undefined : median(before);
  if (usual === undefined) return null;
  const sd = Math.max(Math.hypot(u, usualSwing(code, value, quantity)), spreadOf(before, usual));
  return {
    ...move,
    sd,
    by: value - usual,
    sds: (value - usual) / sd,
    sdsBefore: ((before[0] ?? usual) - usual) / sd,
  };
}

/** How far a system's own values of this hour scatter, whatever is usual; 0 where they are too few to say. */
const spreadOf = (before: readonly number[], usual: number): number =>
  before.length < fewestForSpread
    ? 0
    : normalPerMad * (median(before.map((value) => Math.abs(value - usual))) ?? 0);
