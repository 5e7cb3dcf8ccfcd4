import { memoizeWith } from '../../platform/memoize.ts';
import type { Step } from '../../science/filter/step-evidence.ts';
import { normalQuantile } from '../../science/statistics/normal.ts';
import { studentWithin } from '../../science/statistics/student.ts';
import { daysInDoubt, doseSwing } from './dose-doubt.rules.ts';
import { fallSince } from './fall-since.rules.ts';
import { type GrowthLine, growthLine, prior, type WindowUse } from './growth-line.rules.ts';
import { type DemandRate, type DemandReading, type DemandRecord, rateBetween } from './rate.rules.ts';
import { lowerMedian } from './usable-readings.rules.ts';

/** The present use against the system's own past; canonical unit a day, use above 0. */
export interface DemandShift {
  /** Length of each window, days: by how often the water is tested. */
  days: number;
  /** They are hardly more than the shortest that can be compared. */
  isShort: boolean;
  late: DemandRate;
  use: number;
  /** What the past leads to, by its growth where it grew: less what was sold or lost since; and the spread (SD) of single windows. */
  usual: number;
  spread: number;
  /** The past clearly grew. */
  grows: boolean;
  /** The same for a rise: nothing is taken off for what was sold or lost. */
  expected: number;
  /** Change against the usual use as a share of it, with its 95 % interval. */
  share: number;
  shareLow: number;
  shareHigh: number;
  /** Evidence in standard deviations that it fell below what the past leads to, and that it rose above it. */
  fell: number;
  rose: number;
  /** The stronger of the two, were each day's dose what was told: more than them where a doser swings. */
  asTold: number;
  /** How far (SD) the mean dose of the window may be off what was told; 0 while the level moves as steadily as ever. */
  doseSd: number;
  /** What went in is known by looks into the container for nearly all of the window. */
  looked: boolean;
  /** Part of the stock of the past that was sold or lost since, as the use is compared. */
  left: number;
  /** Windows of the past, oldest first, each at its middle with the standard error of its use, and from which day on. */
  past: { day: number; use: number; sd: number }[];
  sinceDay: number;
}

/** Days of the past that are compared with. Own choice, as the limits below. */
const pastDays = 180;
/** Fewest windows of the past, and the days they must cover together. */
const fewestWindows = 4;
const fewestDays = 56;
/** Fewest readings of the present window, and of one of the past. */
const fewestReadings = { late: 4, past: 3 };
/** A window is four gaps between tests long, within these days. */
const windowLength = { gaps: 4, shortest: 10, longest: 28 };
/** What was sold may have used more or less than its part of the pieces, by this part of it; own choice. */
const leftSd = 0.3;
/** A dose is known by looks into its container where they cover all but this part of the window; own choice. */
const lookedShare = 0.2;

/**
 * Compares the use in the last window with that in equal windows before. A short window finds a large change soon, one
 * twice as long finds a smaller one, and a fall is judged by all windows together, at whichever day it began (`fallSince`); the
 * comparison with the strongest evidence is returned. Both ways it is judged against the growth of the past; what was sold or
 * lost since explains a fall in proportion. Null where the past is too short, or shows no use that stands out of its spread.
 *
 * @param nowDay days since 1970; later readings are ignored
 */
export const demandShift: (record: DemandRecord, nowDay: number) => DemandShift | null = memoizeWith(
  (record) => record,
  shiftOf,
);

/** A fall of less evidence than this is shown by nobody; own choice. */
const leastEvidence = 1.5;

function shiftOf(record: DemandRecord, nowDay: number): DemandShift | null {
  const known = record.readings.filter(({ day }) => day <= nowDay);
  const days = windowLengthOf(known);
  const last = known.at(-1)?.day ?? 0;
  if (days === null || nowDay - last > days) return null;
  const read = { ...record, readings: known };
  const fall = fallSince(read, last, days);
  const shifts = [days, 2 * days].map((length) => {
    const shift = shiftOver(read, last, length, days);
    return shift === null || fall === null
      ? shift
      : { ...shift, fell: Math.min(shift.fell, evidenceIn(fall, shift)) };
  });
  // Where the last windows cannot be told, neither can a longer one that ends with them.
  const isTold = fall !== null && fall.evidence >= leastEvidence && shifts.some((shift) => shift !== null);
  const since = isTold ? shiftSince(read, last, days, fall) : null;
  return (
    [...shifts, since].filter((shift) => shift !== null).sort((a, b) => evidenceOf(b) - evidenceOf(a))[0] ??
    null
  );
}

/** The present use since the day on which it most likely fell, with the evidence of all windows together. */
function shiftSince(record: DemandRecord, last: number, days: number, fall: Step): DemandShift | null {
  const length = Math.max(days, Math.round(fall.ago));
  const shift = shiftOver(record, last, length, days);
  if (shift === null) return null;
  const fell = evidenceIn(fall, shift);
  return { ...shift, fell, rose: -fell, asTold: fall.evidence };
}

/** Less where what went in differs from day to day. */
const evidenceIn = ({ size, evidence }: Step, { doseSd, usual }: DemandShift): number =>
  evidence === 0 ? 0 : Math.abs(size) / Math.hypot(size / evidence, doseSd / usual);

/** Windows up to so many times the shortest are short; own choice. */
const shortTimes = 1.5;

const evidenceOf = ({ fell, rose }: DemandShift) => Math.max(fell, rose);

function shiftOver(record: DemandRecord, last: number, days: number, shortest: number): DemandShift | null {
  const at = (end: number) => rateBetween(record, end - days, end);
  const late = at(last);
  if (late === null || late.readings < fewestReadings.late) return null;
  const count = Math.max(fewestWindows + 2, Math.floor(pastDays / days));
  const past = Array.from({ length: count }, (_, i) => at(last - days * (count - i))).filter(
    (rate) => rate !== null && rate.readings >= fewestReadings.past && rate.toDay - rate.fromDay >= days / 2,
  ) as DemandRate[];
  if (past.length < fewestWindows || past.length * days < fewestDays) return null;
  const swing = doseSwing(record, last, { late: days, past: pastDays / 2 });
  const doubt = daysInDoubt(record.looked ?? [], late.fromDay, late.toDay);
  const span = late.toDay - late.fromDay;
  // The slope of a line through a walk of steps is off by 1.2 of their mean's variance.
  const doseSd = (swing * Math.sqrt(1.2 * Math.max(0, doubt))) / span;
  return compareWindows(record, late, past, {
    ...{ days, isShort: days < shortTimes * shortest },
    ...{ doseSd, looked: doubt <= lookedShare * span },
  });
}

/** Days of one window; null with fewer than two readings. */
function windowLengthOf(readings: readonly DemandReading[]): number | null {
  const { gaps, shortest, longest } = windowLength;
  const recent = readings.slice(-60);
  const gap = lowerMedian(recent.slice(1).map(({ day }, i) => day - (recent[i]?.day ?? day)));
  return gap === null ? null : Math.min(longest, Math.max(shortest, Math.ceil(gaps * gap)));
}

function compareWindows(
  { left = [] }: DemandRecord,
  late: DemandRate,
  past: readonly DemandRate[],
  about: Pick<DemandShift, 'days' | 'isShort' | 'doseSd' | 'looked'>,
): DemandShift | null {
  const middleOf = ({ fromDay, toDay }: DemandRate) => (fromDay + toDay) / 2;
  const rows = past.map((rate) => ({ day: middleOf(rate), use: -rate.perDay, error: rate.sd }));
  const lines = linesBySales(left, rows, past, late);
  const best = lines.reduce((least, { share }) => Math.min(least, share), Number.POSITIVE_INFINITY);
  const likely = lines
    .filter(({ share }) => share <= asLikely * best)
    .sort((a, b) => a.expected - b.expected);
  const [low, high] = [likely[0], likely.at(-1)];
  const mean = rows.reduce((sum, { use }) => sum + use, 0) / rows.length;
  if (low === undefined || high === undefined || mean < (3 * low.spread) / Math.sqrt(rows.length))
    return null;
  const error = lowerMedian(past.map(({ sd }) => sd)) ?? 0;
  const recent = soldSince(left, past.slice(-2), late);
  const use = -late.perDay;
  const dof = prior.windows + rows.length - (low.isClear ? 2 : 1);
  const sdOf = ({ spread, sd, expected }: GrowthLine, doseSd: number) =>
    Math.hypot(
      spread,
      sd,
      Math.sqrt(Math.max(0, late.sd ** 2 - error ** 2)),
      leftSd * recent * expected,
      doseSd,
    );
  const { doseSd } = about;
  const scores = (dose: number) => ({
    fell: normalScoreOf((low.expected - use) / sdOf(low, dose), dof),
    rose: normalScoreOf((use - high.expected) / sdOf(high, dose), dof),
  });
  const share = (use - low.expected) / low.expected;
  const asTold = scores(0);
  const reach = (1.96 * sdOf(low, doseSd)) / low.expected;
  return {
    ...about,
    late,
    use,
    usual: low.expected,
    expected: high.expected,
    grows: low.isClear,
    spread: low.spread,
    share,
    shareLow: share - reach,
    shareHigh: share + reach,
    ...scores(doseSd),
    asTold: Math.max(asTold.fell, asTold.rose),
    left: recent,
    past: rows.map(({ day, use: used, error: sd }) => ({ day, use: used, sd })),
    sinceDay: past[0]?.fromDay ?? late.fromDay,
  };
}

/** Nothing explains that all is gone. */
const mostSold = 0.95;

/** By how much of their part of the pieces what was sold may have used: none, half, as much, a quarter more. */
const usedBySold = [0, 0.5, 1, 1.25];
/** A line whose windows spread by no more than so many times those of the best is as likely; own choice. */
const asLikely = 1.15;

/** What the past leads to, by how much what was sold or lost in it may have used; `share`: the relative spread about it. */
function linesBySales(
  left: NonNullable<DemandRecord['left']>,
  rows: readonly WindowUse[],
  past: readonly DemandRate[],
  late: DemandRate,
): (GrowthLine & { share: number })[] {
  return (left.length === 0 ? [0] : usedBySold).flatMap((part) => {
    const kept = past.map((rate) => stockKept(left, rate, part));
    const now = stockKept(left, late, part);
    const held = rows.map(({ day, use, error }, i) => {
      const there = kept[i] ?? 1;
      return { day, use: use / there, error: error / there };
    });
    const line = growthLine(held, (late.fromDay + late.toDay) / 2);
    if (line === null) return [];
    const { expected, spread, sd, isClear } = line;
    const scaled = { expected: expected * now, spread: spread * now, sd: sd * now, isClear };
    return [{ ...scaled, share: spread / expected }];
  });
}

/** Part of the stock of the last windows of the past that was sold or lost since. */
const soldSince = (
  left: NonNullable<DemandRecord['left']>,
  before: readonly DemandRate[],
  late: DemandRate,
) => Math.max(0, 1 - stockKept(left, late, 1) / Math.max(...before.map((rate) => stockKept(left, rate, 1))));

/** Part of the use, as it was before any stock left, that was there in the mean of a window; `used`: as in `usedBySold`. */
function stockKept(
  all: NonNullable<DemandRecord['left']>,
  { fromDay, toDay }: Pick<DemandRate, 'fromDay' | 'toDay'>,
  used: number,
): number {
  const left = all.map(({ day, share }) => ({ day, share: Math.min(mostSold, used * share) }));
  const during = left.filter(({ day }) => day > fromDay && day < toDay);
  const edges = [fromDay, ...during.map(({ day }) => day), toDay];
  let part = left.filter(({ day }) => day <= fromDay).reduce((kept, { share }) => kept * (1 - share), 1);
  let sum = 0;
  for (const [i, edge] of edges.slice(1).entries()) {
    sum += part * (edge - (edges[i] ?? edge));
    part *= 1 - (during[i]?.share ?? 0);
  }
  return sum / (toDay - fromDay);
}

/** The normal score that is as rare as this value of Student's t. */
function normalScoreOf(t: number, dof: number): number {
  const z = normalQuantile(0.5 + Math.min(studentWithin(Math.abs(t), dof), 1 - 1e-12) / 2);
  return t < 0 ? -z : z;
}
