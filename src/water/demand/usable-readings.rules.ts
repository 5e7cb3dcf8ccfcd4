import type { DemandLog, DemandReading } from './rate.rules.ts';

/** Why readings are left out of a rate, in the order in which pages say it. */
export const leftOutReasons = [
  'refuted',
  'unconfirmed',
  'by a kit under suspicion',
  'below detection',
  'within an hour after a dose or water change',
  'at another hour of the dosing',
  'the only one by its kit',
] as const;

type Reason = (typeof leftOutReasons)[number];
/** How many readings were left out for each reason. */
export type LeftOutCounts = ReadonlyMap<Reason, number>;

/** Days that the water needs to mix after a dose or change; own choice. */
const mixingTime = 1 / 24;
/** Changes of a smaller part of the water need no time to mix; own choice. */
const smallChange = 0.01;

/** The readings that a rate can rest on, oldest first, and how many were left out for which reason. */
export function usableReadings(
  readings: readonly DemandReading[],
  log: DemandLog,
): { kept: DemandReading[]; leftOut: Map<Reason, number> } {
  const leftOut = new Map<Reason, number>();
  const additions = additionsOf(log);
  const usable = [...readings]
    .sort((a, b) => a.day - b.day)
    .filter((reading) => {
      const reason = reasonAgainst(reading, additions);
      if (reason !== null) leftOut.set(reason, (leftOut.get(reason) ?? 0) + 1);
      return reason === null;
    });
  const reliable = withoutSuspects(usable);
  if (reliable.length < usable.length)
    leftOut.set('by a kit under suspicion', usable.length - reliable.length);
  const kept = readingsAtOnePhase(reliable, log.doses);
  if (kept.length < reliable.length)
    leftOut.set('at another hour of the dosing', reliable.length - kept.length);
  return { kept, leftOut };
}

/** A kit under suspicion is left out where others tell as much: within one kit a rate is off by no more than its bias. */
function withoutSuspects(readings: readonly DemandReading[]): readonly DemandReading[] {
  const others = readings.filter(({ suspect }) => !suspect);
  return 2 * others.length >= readings.length ? others : readings;
}

/** Something put into the water, and by how much it can move the level before it has mixed. */
interface AddedAt {
  day: number;
  rise: number;
}

/** Everything that takes time to mix, oldest first. */
function additionsOf({ changes, doses }: DemandLog): AddedAt[] {
  const large = changes.filter(({ fraction }) => fraction > smallChange);
  return [
    ...large.map(({ day }) => ({ day, rise: Number.POSITIVE_INFINITY })),
    ...doses.map(({ day, rise }) => ({ day, rise: Math.abs(rise) })),
  ].sort((a, b) => a.day - b.day);
}

function reasonAgainst(
  { trust, below, day, u }: DemandReading,
  additions: readonly AddedAt[],
): Reason | null {
  if (trust === 'refuted' || trust === 'unconfirmed') return trust;
  if (below) return 'below detection';
  return isUnmixed(day, u, additions) ? 'within an hour after a dose or water change' : null;
}

/** Whether something larger than the test's error went in within the hour before; `additions` in order of time. */
function isUnmixed(day: number, u: number, additions: readonly AddedAt[]): boolean {
  let [low, high] = [0, additions.length];
  while (low < high) {
    const half = (low + high) >> 1;
    if ((additions[half]?.day ?? 0) < day) low = half + 1;
    else high = half;
  }
  for (let i = low - 1; i >= 0; i--) {
    const added = additions[i] as AddedAt;
    if (day - added.day >= mixingTime) return false;
    if (added.rise > u) return true;
  }
  return false;
}

/**
 * Where single doses stand out of the test's error: the readings of one phase, early, middle or late between two doses,
 * whichever has the most (late before early where they have as many). All readings where too few are of one phase, since
 * the balance takes the doses out anyway; one phase only keeps a wrong dose strength from looking like a change of use.
 */
export function readingsAtOnePhase<R extends { day: number; u: number }>(
  readings: readonly R[],
  doses: DemandLog['doses'],
): R[] {
  const all = [...readings];
  const times = doses.map(({ day }) => day).sort((a, b) => a - b);
  const interval = lowerMedian(times.slice(1).map((day, i) => day - (times[i] ?? day)));
  const size = lowerMedian(doses.map(({ rise }) => Math.abs(rise)));
  const error = lowerMedian(readings.map(({ u }) => u));
  if (interval === null || size === null || error === null || size < 2 * error) return all;
  const phases = Map.groupBy(all, ({ day }) => phaseOf(day, times, interval));
  const largest =
    [2, 0, 1].map((phase) => phases.get(phase) ?? []).sort((a, b) => b.length - a.length)[0] ?? [];
  const span = (of: readonly R[]) => (of.at(-1)?.day ?? 0) - (of[0]?.day ?? 0);
  return largest.length >= 3 && span(largest) >= span(all) / 2 ? largest : all;
}

/** 0 early after the last dose, 1 in the middle, 2 late or before the first. */
function phaseOf(day: number, times: readonly number[], interval: number): number {
  const last = times.findLast((time) => time < day);
  return last === undefined ? 2 : Math.min(2, Math.floor((3 * (day - last)) / interval));
}

/** The middle one, of an even number the lower of the two; null of none. */
export function lowerMedian(values: readonly number[]): number | null {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) / 2)] ?? null;
}
