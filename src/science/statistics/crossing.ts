import { finite, inRange, notNegative } from '../numeric/range.ts';
import { normalQuantile } from './normal.ts';

/** A level and how it changes, both with standard uncertainties and their covariance. */
export interface Moving {
  level: number;
  levelSd: number;
  perDay: number;
  sd: number;
  cov?: number;
}

/** Days until a limit is reached. */
export interface Crossing {
  /** Best estimate; null when the level stands still or moves away. */
  days: number | null;
  /** Earliest day (0: may be there already), at the probability asked for. */
  earliest: number;
  /** Latest day; null when it may never come. */
  latest: number | null;
}

/**
 * When a level that goes on moving as it does reaches `limit`, with an interval by Fieller's theorem (Fieller 1954,
 * from memory): all days on which level + rate x days - limit is within its own uncertainty of 0. `earliest` is
 * Infinity when there is no such day.
 *
 * @param level probability of the interval, 0.5 to 0.999
 */
export function daysToLimit(moving: Moving, limit: number, level = 0.9): Crossing {
  const gap = finite(limit, 'limit') - finite(moving.level, 'level');
  const { perDay, cov = 0 } = moving;
  const varLevel = notNegative(moving.levelSd, 'uncertainty of the level') ** 2;
  const varRate = notNegative(moving.sd, 'uncertainty of the rate') ** 2;
  const z2 = normalQuantile((1 + inRange(level, 0.5, 0.999, 'probability')) / 2) ** 2;
  // (gap - rate t)^2 <= z^2 (varLevel + 2 cov t + varRate t^2), as a t^2 + 2 b t + c <= 0
  const a = finite(perDay, 'rate') ** 2 - z2 * varRate;
  const b = -gap * perDay - z2 * cov;
  const c = gap * gap - z2 * varLevel;
  return { days: estimate(gap, perDay), ...span(a, b, c) };
}

function estimate(gap: number, perDay: number): number | null {
  if (gap === 0) return 0;
  return perDay !== 0 && Math.sign(gap) === Math.sign(perDay) ? gap / perDay : null;
}

/** First and last t >= 0 with a t^2 + 2 b t + c <= 0. */
function span(a: number, b: number, c: number): { earliest: number; latest: number | null } {
  const root = b * b - a * c;
  if (Math.abs(a) < 1e-300) {
    const t = -c / (2 * b);
    if (b < 0) return { earliest: Math.max(0, t), latest: null };
    return { earliest: c <= 0 ? 0 : Infinity, latest: c <= 0 ? t : null };
  }
  if (root < 0) return a < 0 ? { earliest: 0, latest: null } : { earliest: Infinity, latest: null };
  const [t1, t2] = [(-b - Math.sqrt(root)) / a, (-b + Math.sqrt(root)) / a];
  if (a > 0) return t2 < 0 ? { earliest: Infinity, latest: null } : { earliest: Math.max(0, t1), latest: t2 };
  // a < 0: outside the roots, with t2 <= t1
  return { earliest: t2 >= 0 || c <= 0 ? 0 : Math.max(0, t1), latest: null };
}
