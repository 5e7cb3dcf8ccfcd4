import type { SwingReading } from '../../../science/filter/swing.ts';
import { groupRepeats, meanOf } from '../../../science/numeric/repeats.ts';
import type { ReadingFact } from '../../facts/types.ts';

/** Readings as the watch on swing takes them: a test and its repeat are one occasion, with their mean. */
export function mergeRepeats(readings: readonly ReadingFact[]): SwingReading[] {
  const groups = groupRepeats(readings);
  return groups.map((group, i) => ({
    ...(isOtherKit(groups[i - 1]?.at(-1), group[0]) ? { otherKit: true } : {}),
    day: group[0].day,
    value: meanOf(group.map(({ value }) => value)),
    sd: Math.max(...group.map(({ u }) => u)),
    confirmed: group.some(({ trust }) => trust === 'confirmed'),
  }));
}

const isOtherKit = (before: ReadingFact | undefined, now: ReadingFact | undefined): boolean =>
  (before?.kitId ?? null) !== null && (now?.kitId ?? null) !== null && before?.kitId !== now?.kitId;

/** The usual gap between the last 60 occasions, days. */
export function usualGap(readings: readonly { day: number }[]): number {
  const recent = readings.slice(-60);
  const gaps = recent.slice(1).map(({ day }, i) => day - (recent[i]?.day ?? day));
  return Math.max(0.25, lowerMiddle(gaps));
}

/** The middle one; 1 for none. */
export function lowerMiddle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) / 2)] ?? 1;
}
