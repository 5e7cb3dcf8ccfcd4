import { accustomedAt } from '../../science/light.ts';
import { dayMs, dayOf } from '../../science/numeric/time.ts';
import type { Care } from '../kinds/care.ts';
import { DEFAULT_ADAPTATION_DAYS, initialLight, isKnownLongEnough } from './accustomed.rules.ts';
import type { LotLight } from './lot-light.ts';

/** What a lot got on a day against what it was accustomed to, all as daily light, mol/(m2 d). */
export interface DailyLight {
  at: Date;
  /** Null where its light was not known. */
  received: number | null;
  /** Null until its light was known for long enough to say that it was used to it. */
  accustomed: number | null;
  /** The lower of two limits: its kind's ceiling, and the largest step from the light it had so far; null where neither is stated. */
  tolerated: number | null;
}

/**
 * The light of a lot day by day, with a further moment wherever it changed; computed as the rules compute it. Empty
 * where it was never known.
 * @param from the earliest moment wanted
 */
export function dailyCourse(
  { exposures, arrival }: LotLight,
  care: Care,
  from: Date,
  now: Date,
): DailyLight[] {
  const [first] = exposures;
  if (first === undefined) return [];
  const moments = momentsOf(exposures, from, now);
  const pieces = exposures.map((piece) => ({ fromDay: dayOf(piece.from), dailyLight: piece.dli }));
  const start = initialLight(arrival, { fromDay: dayOf(first.from), dli: first.dli });
  const days = care.adaptation_days?.high ?? DEFAULT_ADAPTATION_DAYS;
  const accustomed = accustomedAt(pieces, days, start, moments.map(dayOf));
  return moments.map((at, i) => {
    const piece = exposures.find((one) => one.from <= at && (one.to === null || one.to > at));
    const lastPiece = piece ?? exposures.findLast((one) => one.from <= at) ?? first;
    const limits = [
      ...(care.step_ratio?.high == null ? [] : [care.step_ratio.high * (accustomed[i] as number)]),
      ...(care.par_ceiling?.high == null || lastPiece.par <= 0
        ? []
        : [(care.par_ceiling.high * lastPiece.dli) / lastPiece.par]),
    ];
    return {
      at,
      received: piece?.dli ?? null,
      accustomed: isKnownLongEnough(dayOf(first.from), dayOf(at), days, arrival !== null)
        ? (accustomed[i] as number)
        : null,
      tolerated: limits.length === 0 ? null : Math.min(...limits),
    };
  });
}

/** Each day from the first known light on, where the light changed, and now. */
function momentsOf(exposures: LotLight['exposures'], from: Date, now: Date): Date[] {
  const start = Math.max(from.getTime(), exposures[0]?.from.getTime() ?? 0);
  const times = new Set([start, now.getTime()]);
  for (let time = start; time < now.getTime(); time += dayMs) times.add(time);
  for (const edge of exposures.flatMap((piece) => [piece.from, piece.to ?? now]))
    if (edge.getTime() >= start && edge < now) times.add(edge.getTime());
  return [...times].sort((a, b) => a - b).map((time) => new Date(time));
}
