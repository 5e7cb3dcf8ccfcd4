import { longestSilence } from '../estimates/last-test.rules.ts';
import type { DemandLog, DemandReading } from './rate.rules.ts';
import { lowerMedian } from './usable-readings.rules.ts';

/** Tests this many days apart still tell what is used or made between them; own choice. */
const leastSilence = 14;

/** Whole days since the last test, where that is so long ago that nobody knows how it is now; else null. */
export function silentDays(
  { readings }: { readings: readonly DemandReading[] },
  today: number,
): number | null {
  const standing = readings.filter(({ trust }) => trust !== 'refuted');
  const last = standing.at(-1);
  if (last === undefined) return null;
  const silent = today - last.day;
  return silent > Math.max(leastSilence, longestSilence(standing)) ? Math.round(silent) : null;
}

/** A log of doses ends after so many usual gaps without one, and not before these days; own choice. */
const [missedDoses, leastDoseSilence] = [3, 3];

/**
 * The day of the last dose, where the log ended well before a day: nobody knows then whether dosing stopped or was not
 * written down. Null while it goes on, or where nothing was ever dosed. Single doses are no habit that could end.
 */
export function dosesEndedOn(
  doses: readonly Pick<DemandLog['doses'][number], 'day'>[],
  day: number,
): number | null {
  const days = doses
    .map((dose) => dose.day)
    .filter((one) => one <= day)
    .sort((a, b) => a - b);
  const last = days.at(-1);
  const gap = lowerMedian(days.slice(1).map((one, i) => one - (days[i] ?? one)));
  if (last === undefined || gap === null || days.length < leastHabit) return null;
  return day - last > Math.max(leastDoseSilence, missedDoses * gap) ? last : null;
}

/** So many doses are a habit; own choice. */
const leastHabit = 4;
