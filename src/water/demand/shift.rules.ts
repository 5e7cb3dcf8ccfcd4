import { normalQuantile } from '../../science/statistics/normal.ts';
import { studentWithin } from '../../science/statistics/student.ts';
import {
  around,
  type DemandLog,
  type DemandRate,
  type DemandReading,
  middle,
  rateOf,
  within,
} from './rate.rules.ts';

/** The use of late against the system's own past; canonical unit a day, use above 0. */
export interface DemandShift {
  /** Length of each window, days: by how often the water is tested. */
  days: number;
  late: DemandRate;
  /** Use of late, and the usual one before, with the spread of single windows around it. */
  use: number;
  usual: number;
  spread: number;
  /** What the use would have come to by its own growth; the usual one where it did not grow. */
  grown: number;
  /** Change against the usual use as a share of it, with its 95 % interval. */
  share: number;
  shareLow: number;
  shareHigh: number;
  /** Evidence in standard deviations that it fell below the usual one, and that it rose above its own growth. */
  fell: number;
  rose: number;
  /** Windows of the past, oldest first, and from which day on. */
  past: { day: number; use: number }[];
  sinceDay: number;
}

const pastDays = 120;
const fewestWindows = 4;
/** Windows of the past are at least so many days together before anything is compared. */
const fewestDays = 56;
/** What the spread is taken to be before the windows have shown it: worth this many of them, and this part of the use. */
const prior = { windows: 4, share: 0.07 };
const cut = 2.5;

/**
 * Compares the use in the last window with that in equal windows before: in a short one, which sees a large change
 * soon, and in one twice as long, which sees a smaller one; what speaks louder is returned. Growth of the stock is
 * allowed for on the way up only: a rise must stand above the line through the past, a fall below its middle. Null
 * where the past is too short, or shows no use that stands out of its spread.
 */
export function demandShift(
  readings: readonly DemandReading[],
  log: DemandLog,
  nowDay: number,
): DemandShift | null {
  const relied = readings.filter(({ day }) => day <= nowDay);
  const days = windowOf(relied);
  const last = relied.at(-1)?.day ?? 0;
  if (days === null || nowDay - last > days) return null;
  const shifts = [days, 2 * days].map((length) => shiftOver(relied, log, last, length));
  return shifts.filter((shift) => shift !== null).sort((a, b) => loudness(b) - loudness(a))[0] ?? null;
}

const loudness = ({ fell, rose }: DemandShift) => Math.max(fell, rose);

function shiftOver(readings: readonly DemandReading[], log: DemandLog, last: number, days: number) {
  const at = (end: number) => rateOf(readings.filter(within(end - days, end)), around(log, end - days, end));
  const late = at(last);
  if (late === null || late.readings < 4) return null;
  const count = Math.max(fewestWindows + 2, Math.floor(pastDays / days));
  const past = Array.from({ length: count }, (_, i) => at(last - days * (count - i))).filter(
    (rate) => rate !== null && rate.readings >= 3 && rate.toDay - rate.fromDay >= days / 2,
  ) as DemandRate[];
  return past.length < fewestWindows || past.length * days < fewestDays ? null : compared(late, past, days);
}

/** Four gaps between tests, from ten days to four weeks. */
function windowOf(readings: readonly DemandReading[]): number | null {
  const recent = readings.slice(-60);
  const gap = middle(recent.slice(1).map(({ day }, i) => day - (recent[i]?.day ?? day)));
  return gap === null ? null : Math.min(28, Math.max(10, Math.ceil(4 * gap)));
}

function compared(late: DemandRate, past: readonly DemandRate[], days: number): DemandShift | null {
  const rows = past.map((rate) => ({ day: (rate.fromDay + rate.toDay) / 2, use: -rate.perDay }));
  const error = middle(past.map(({ sd }) => sd)) ?? 0;
  const { mean: usual, spread } = usualOf(
    rows.map(({ use }) => use),
    error,
  );
  if (usual <= 0 || usual < (3 * spread) / Math.sqrt(rows.length)) return null;
  const own = Math.sqrt(spread ** 2 + Math.max(0, late.sd ** 2 - error ** 2));
  const use = -late.perDay;
  const line = grownTo((late.fromDay + late.toDay) / 2, rows, usual);
  const dof = prior.windows + rows.length - 1;
  const flatSd = Math.hypot(own, spread / Math.sqrt(rows.length));
  const share = (use - usual) / usual;
  return {
    days,
    late,
    use,
    usual,
    spread,
    grown: line.value,
    share,
    shareLow: share - (1.96 * flatSd) / usual,
    shareHigh: share + (1.96 * flatSd) / usual,
    fell: normalEquivalent((usual - use) / flatSd, dof),
    rose: normalEquivalent((use - line.value) / Math.hypot(own, spread * line.lever), dof),
    past: rows,
    sinceDay: past[0]?.fromDay ?? late.fromDay,
  };
}

/** Middle and spread of the windows, far ones pulled in; the spread joined with what is expected before any is seen. */
function usualOf(uses: readonly number[], error: number): { mean: number; spread: number } {
  const center = median(uses);
  const reach = cut * Math.max(1.4826 * median(uses.map((use) => Math.abs(use - center))), error);
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

/** The line through the past carried on to a day where it rises, else its middle; `lever`: its error in spreads. */
function grownTo(day: number, rows: readonly { day: number; use: number }[], usual: number) {
  const center = rows.reduce((sum, row) => sum + row.day, 0) / rows.length;
  const square = rows.reduce((sum, row) => sum + (row.day - center) ** 2, 0);
  const slope = rows.reduce((sum, row) => sum + (row.day - center) * (row.use - usual), 0) / square;
  if (slope <= 0) return { value: usual, lever: Math.sqrt(1 / rows.length) };
  return {
    value: usual + slope * (day - center),
    lever: Math.sqrt(1 / rows.length + (day - center) ** 2 / square),
  };
}

/** Student's t as the standard deviations of a normal value that is as rare. */
function normalEquivalent(t: number, dof: number): number {
  const z = normalQuantile(0.5 + Math.min(studentWithin(Math.abs(t), dof), 1 - 1e-12) / 2);
  return t < 0 ? -z : z;
}
