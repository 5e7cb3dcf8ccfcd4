import { dayOf } from '../../../science/numeric/time.ts';
import type { ReadingFact } from '../../facts/types.ts';

/** A quantity that has been near nothing for a while. */
export interface Depletion {
  /** The first of the low readings, and the last before it; null where all that are known are low. */
  sinceDay: number;
  beforeDay: number | null;
  readings: ReadingFact[];
  /** How many of them were below detection. */
  below: number;
  /** Enough to say so; else only enough to go on saying so. */
  sure: boolean;
}

const fewest = 3;
const [mostOfThem, halfOfThem] = [0.8, 0.5];

/**
 * Whether readings of the last `days` days were at or below `limit`, or below detection: at least three over that time,
 * four in five of them, the last among them, and their mean below it too (one below detection counts as half its bound,
 * with the uncertainty of not knowing more). Null where not.
 */
export function depletedFor(
  all: readonly ReadingFact[],
  limit: number,
  days: number,
  now: Date,
): Depletion | null {
  const today = dayOf(now);
  const relied = all.filter(({ trust }) => trust !== 'unconfirmed');
  const isLow = ({ below, above, value }: ReadingFact) => !above && (below || value <= limit);
  const from = relied.findLastIndex(({ day }) => day <= today - days);
  const window = relied.slice(Math.max(0, from));
  const low = window.filter(isLow);
  const last = window.at(-1);
  if (from < 0 || last === undefined || low.length < fewest || today - last.day > days) return null;
  const share = low.length / window.length;
  if (share < halfOfThem || !isLow(last)) return null;
  const below = low.filter((one) => one.below).length;
  const sure = share >= mostOfThem && (below >= mostOfThem * window.length || meanBelow(window, limit));
  return { ...sinceOf(relied, isLow), readings: window, below, sure };
}

/** Mean and its uncertainty lie below the limit. */
function meanBelow(readings: readonly ReadingFact[], limit: number): boolean {
  const known = readings.map(({ value, u, below }) =>
    below ? { value: value / 2, u: value / Math.sqrt(12) } : { value, u },
  );
  const mean = known.reduce((sum, { value }) => sum + value, 0) / known.length;
  const u = Math.sqrt(known.reduce((sum, one) => sum + one.u ** 2, 0)) / known.length;
  return mean + u <= limit;
}

/** The first of the low ones that stand in a row to the end, one other among them let pass. */
function sinceOf(
  relied: readonly ReadingFact[],
  isLow: (one: ReadingFact) => boolean,
): Pick<Depletion, 'sinceDay' | 'beforeDay'> {
  const others = relied.map((one, i) => (isLow(one) ? -1 : i)).filter((i) => i >= 0);
  const before = others.at(-2) ?? -1;
  const sinceDay = relied[before + 1]?.day ?? relied.at(-1)?.day ?? 0;
  return { sinceDay, beforeDay: relied[before]?.day ?? null };
}
