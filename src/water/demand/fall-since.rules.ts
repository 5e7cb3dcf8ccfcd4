import { type Step, type StepOptions, stepWithin } from '../../science/filter/step-evidence.ts';
import { type DemandRecord, rateBetween } from './rate.rules.ts';
import { lowerMedian } from './usable-readings.rules.ts';

/** Days of the past that are compared with, windows of it that a fall may have begun before, and the days that they cover. */
const pastDays = 180;
const fewest = { windows: 5, days: 56, readings: 3 };
/** So many window lengths ago a fall may have begun. */
const begunAgo = [0.8, 1.1, 1.4, 1.7, 2, 2.4, 2.8];
/** What was sold may have used more or less than its part of the pieces, by this part of it; own choice. */
const leftSd = 0.3;
/** Nothing explains that all is gone. */
const mostSold = 0.95;
/** A use below this part of the middle one counts as that: its logarithm says more than its test does. Own choice. */
const leastShare = 0.25;

/**
 * How the logarithm of the use wanders by itself: by 7 % within days, by 4 % within weeks (what a doser gives drifts), 2 % from
 * window to window; it grows by 0 to 4 % a week. By simulation of rough farms, on tuning seeds.
 */
const wandering: StepOptions = {
  ...{ short: 0.07, shortDays: 5, long: 0.04, longDays: 50, own: 0.02 },
  ...{ trend: 0.0025, trendSd: 0.003, assumed: 20 },
};

/**
 * The fall of the use that the windows of half a year speak for most, at whichever day of the last four weeks or so it began: all
 * of them together tell it sooner than the last one against those before. What was sold or lost explains its part. Null where the
 * past is too short, or shows no use; `evidence` 0 where nothing fell.
 *
 * @param last day of the last reading
 * @param days length of a window
 */
export function fallSince(record: DemandRecord, last: number, days: number): Step | null {
  const count = Math.floor(pastDays / days);
  const windows = Array.from({ length: count + 1 }, (_, i) => {
    const end = last - days * (count - i);
    return rateBetween(record, end - days, end);
  }).filter(
    (rate) => rate !== null && rate.readings >= fewest.readings && rate.toDay - rate.fromDay >= days / 2,
  );
  const known = windows.flatMap((rate) => rate ?? []);
  const middle = lowerMedian(known.map(({ perDay }) => -perDay));
  if (known.length < fewest.windows || known.length * days < fewest.days || middle === null || middle <= 0)
    return null;
  const series = known.map(({ fromDay, toDay, perDay, sd }) => {
    const use = Math.max(-perDay, leastShare * middle);
    return { from: fromDay, to: toDay, value: Math.log(use), sd: sd / use };
  });
  const sales = (record.left ?? []).map(({ day, share }) => {
    const size = Math.log(1 - Math.min(mostSold, share));
    return { day, size, sd: leftSd * Math.abs(size) };
  });
  const ago = begunAgo.map((times) => times * days);
  return (
    stepWithin(series, sales, { end: last, ago, side: 'down' }, wandering) ?? {
      ago: days,
      size: 0,
      evidence: 0,
    }
  );
}
