import { normalQuantile } from '../../science/statistics/normal.ts';
import { studentWithin } from '../../science/statistics/student.ts';
import { type DemandRate, type DemandReading, type DemandRecord, rateBetween } from './rate.rules.ts';
import { lowerMedian } from './usable-readings.rules.ts';

/** The present use against the system's own past; canonical unit a day, use above 0. */
export interface DemandShift {
  /** Length of each window, days: by how often the water is tested. */
  days: number;
  late: DemandRate;
  /**
   * The present use, what the past leads to (its mean, or its line where it clearly grew), and the spread (SD) of single
   * windows around their mean.
   */
  use: number;
  usual: number;
  spread: number;
  /** The past clearly grew. */
  grows: boolean;
  /** The use to expect by the growth seen in the past; the usual one where it did not grow. */
  expected: number;
  /** Change against the usual use as a share of it, with its 95 % interval. */
  share: number;
  shareLow: number;
  shareHigh: number;
  /** Evidence in standard deviations that it fell below the past's mean or growth, and that it rose above its growth. */
  fell: number;
  rose: number;
  /** Windows of the past, oldest first, and from which day on. */
  past: { day: number; use: number }[];
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
/** The spread assumed before windows have shown it, as a part of the use, and the number of windows it counts as. */
const prior = { windows: 4, share: 0.07 };
/** A window further from the median than this many spreads is moved to that distance, so that one slip does not widen the spread. */
const outlierLimit = 2.5;

/**
 * Compares the use in the last window with that in equal windows before. A short window finds a large change soon, one
 * twice as long finds a smaller one; the comparison with the stronger evidence is returned. Growth of the stock is
 * allowed for: a rise must lie above the trend of the past, a fall below its mean or below that trend. Null where the past
 * is too short, or shows no use that stands out of its spread.
 *
 * @param nowDay days since 1970; later readings are ignored
 */
export function demandShift({ readings, log }: DemandRecord, nowDay: number): DemandShift | null {
  const known = readings.filter(({ day }) => day <= nowDay);
  const days = windowLengthOf(known);
  const last = known.at(-1)?.day ?? 0;
  if (days === null || nowDay - last > days) return null;
  const shifts = [days, 2 * days].map((length) => shiftOver({ readings: known, log }, last, length));
  return shifts.filter((shift) => shift !== null).sort((a, b) => evidenceOf(b) - evidenceOf(a))[0] ?? null;
}

const evidenceOf = ({ fell, rose }: DemandShift) => Math.max(fell, rose);

function shiftOver(record: DemandRecord, last: number, days: number): DemandShift | null {
  const at = (end: number) => rateBetween(record, end - days, end);
  const late = at(last);
  if (late === null || late.readings < fewestReadings.late) return null;
  const count = Math.max(fewestWindows + 2, Math.floor(pastDays / days));
  const past = Array.from({ length: count }, (_, i) => at(last - days * (count - i))).filter(
    (rate) => rate !== null && rate.readings >= fewestReadings.past && rate.toDay - rate.fromDay >= days / 2,
  ) as DemandRate[];
  return past.length < fewestWindows || past.length * days < fewestDays
    ? null
    : compareWindows(late, past, days);
}

/** Days of one window; null with fewer than two readings. */
function windowLengthOf(readings: readonly DemandReading[]): number | null {
  const { gaps, shortest, longest } = windowLength;
  const recent = readings.slice(-60);
  const gap = lowerMedian(recent.slice(1).map(({ day }, i) => day - (recent[i]?.day ?? day)));
  return gap === null ? null : Math.min(longest, Math.max(shortest, Math.ceil(gaps * gap)));
}

function compareWindows(late: DemandRate, past: readonly DemandRate[], days: number): DemandShift | null {
  const rows = past.map((rate) => ({ day: (rate.fromDay + rate.toDay) / 2, use: -rate.perDay }));
  const error = lowerMedian(past.map(({ sd }) => sd)) ?? 0;
  const { mean, spread: flatSpread } = windowStatistics(
    rows.map(({ use }) => use),
    error,
  );
  const line = growthLine((late.fromDay + late.toDay) / 2, rows, mean, error);
  const spread = line.isClear ? line.spread : flatSpread;
  if (mean <= 0 || mean < (3 * spread) / Math.sqrt(rows.length)) return null;
  const lateSd = Math.sqrt(spread ** 2 + Math.max(0, late.sd ** 2 - error ** 2));
  const use = -late.perDay;
  const dof = prior.windows + rows.length - (line.isClear ? 2 : 1);
  const flatSd = Math.hypot(lateSd, spread / Math.sqrt(rows.length));
  const lineSd = Math.hypot(lateSd, spread * line.leverage);
  const [usual, sd] = line.isClear ? [line.value, lineSd] : [mean, flatSd];
  const share = (use - usual) / usual;
  return {
    days,
    late,
    use,
    usual,
    grows: line.isClear,
    spread,
    expected: line.value,
    share,
    shareLow: share - (1.96 * sd) / usual,
    shareHigh: share + (1.96 * sd) / usual,
    fell: normalScoreOf(Math.max((usual - use) / sd, (line.value - use) / lineSd), dof),
    rose: normalScoreOf((use - line.value) / lineSd, dof),
    past: rows,
    sinceDay: past[0]?.fromDay ?? late.fromDay,
  };
}

/** Mean and spread of the windows with outliers pulled in; the spread is pooled with the one assumed before any window. */
function windowStatistics(uses: readonly number[], error: number): { mean: number; spread: number } {
  const center = median(uses);
  const reach = outlierLimit * Math.max(1.4826 * median(uses.map((use) => Math.abs(use - center))), error);
  const pulled = uses.map((use) => Math.max(center - reach, Math.min(center + reach, use)));
  const mean = pulled.reduce((sum, use) => sum + use, 0) / uses.length;
  const square = pulled.reduce((sum, use) => sum + (use - mean) ** 2, 0);
  const expected = error ** 2 + (prior.share * mean) ** 2;
  return {
    mean,
    spread: Math.sqrt((prior.windows * expected + square) / (prior.windows + uses.length - 1)),
  };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = (sorted.length - 1) / 2;
  return ((sorted[Math.floor(half)] ?? 0) + (sorted[Math.ceil(half)] ?? 0)) / 2;
}

/** A past that rises by this many of its standard errors has grown; own choice. */
const clearlyGrown = 2.5;

/**
 * The trend of the past carried on to a day where it rises, else its mean; `leverage`: its standard error in spreads;
 * `spread`: of the windows around it; `isClear`: the past rose by more than that makes by chance.
 */
function growthLine(day: number, rows: readonly { day: number; use: number }[], mean: number, error: number) {
  const center = rows.reduce((sum, row) => sum + row.day, 0) / rows.length;
  const square = rows.reduce((sum, row) => sum + (row.day - center) ** 2, 0);
  const slope = rows.reduce((sum, row) => sum + (row.day - center) * (row.use - mean), 0) / square;
  const flat = { value: mean, leverage: Math.sqrt(1 / rows.length), spread: 0, isClear: false };
  if (slope <= 0) return flat;
  const { spread } = windowStatistics(
    rows.map((row) => row.use - slope * (row.day - center)),
    error,
  );
  return {
    value: mean + slope * (day - center),
    leverage: Math.sqrt(1 / rows.length + (day - center) ** 2 / square),
    spread,
    isClear: slope * Math.sqrt(square) >= clearlyGrown * spread,
  };
}

/** The normal score that is as rare as this value of Student's t. */
function normalScoreOf(t: number, dof: number): number {
  const z = normalQuantile(0.5 + Math.min(studentWithin(Math.abs(t), dof), 1 - 1e-12) / 2);
  return t < 0 ? -z : z;
}
