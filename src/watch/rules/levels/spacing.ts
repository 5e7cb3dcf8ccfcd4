import type { SwingReading } from '../../../science/filter/swing.ts';
import type { ReadingFact } from '../../facts/types.ts';

const togetherHours = 2;

/** Readings as the watch on swing takes them: a test and its repeat are one occasion, with their mean. */
export function mergeRepeats(readings: readonly ReadingFact[]): SwingReading[] {
  const groups: ReadingFact[][] = [];
  for (const reading of readings) {
    const open = groups.at(-1);
    const [first] = open ?? [];
    if (open !== undefined && first !== undefined && reading.day - first.day <= togetherHours / 24)
      open.push(reading);
    else groups.push([reading]);
  }
  return groups.map((group, i) => ({
    ...(isOtherKit(groups[i - 1]?.at(-1), group[0]) ? { otherKit: true } : {}),
    day: group[0]?.day ?? 0,
    value: group.reduce((sum, { value }) => sum + value, 0) / group.length,
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
