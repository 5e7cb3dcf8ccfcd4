import { finite, inRange, positive } from '../numeric/range.ts';
import { truncatedNormal } from '../statistics/normal.ts';
import { LaggedMean } from './lagged-mean.ts';
import type { NitrateReading } from './nitrate-types.ts';

export interface UnloggedStep {
  day: number;
  /** Smoothed level, in the readings' unit. */
  level: number;
  /** Own level: mean of the smoothed level (of its logarithm) at least 28 days old; null before. */
  ownLevel: number | null;
  /** Natural logarithm of level over own level; null before there is an own level. */
  rise: number | null;
}

/** Time constant of the smoothing, days. */
const SMOOTHING = 10;
/** A reading moves the mean as if it were at most this many times its uncertainty (at least 7 %) off. */
const CUT = 3;
const SMALLEST_SD = 0.07;

/**
 * Watches nitrate where water changes are not logged: an exponential mean of ln(reading) over 10 days, surprises
 * limited, against its own mean at least 28 days old (memory 150 days). Alert when `rise` reaches `unloggedLimit`.
 * Cannot tell more production from fewer changes, and is 3 to 8 days slower than `trackNitrate`.
 *
 * Readings above 0; "below detection" counts as what a log-normal reading below the bound is on average.
 * Constants by simulation, in DEVELOPERS.md.
 */
export function trackUnloggedNitrate(readings: readonly NitrateReading[]): UnloggedStep[] {
  const sorted = [...readings].sort((a, b) => a.day - b.day);
  const own = new LaggedMean(28, 150);
  let mean = Number.NaN;
  let day = Number.NaN;
  let sampled = Number.NaN;
  return sorted.map((reading) => {
    checked(reading);
    if (Number.isNaN(mean)) {
      mean = Math.log(reading.value);
      sampled = reading.day;
    } else {
      for (; sampled < reading.day; sampled++) own.add(sampled, mean);
      mean -= Math.expm1(-(reading.day - day) / SMOOTHING) * surprise(reading, mean);
    }
    day = reading.day;
    const usual = own.at(day);
    return {
      day,
      level: Math.exp(mean),
      ownLevel: usual === null ? null : Math.exp(usual),
      rise: usual === null ? null : mean - usual,
    };
  });
}

/**
 * The rise in ln(level) that makes an alert, by the tests' relative uncertainty: 0.20 at 5 %, 0.25 at 10 %, 0.45 at
 * 20 % (chart kits); straight lines between, level beyond.
 */
export function unloggedLimit(relativeSd: number): number {
  positive(relativeSd, 'relative uncertainty');
  if (relativeSd <= 0.1) return 0.2 + Math.max(0, relativeSd - 0.05);
  return Math.min(0.45, 0.25 + 2 * (relativeSd - 0.1));
}

/** How far ln(reading) is off the mean, limited. */
function surprise({ value, relativeSd, step = 0, bound }: NitrateReading, mean: number): number {
  const sd = Math.max(SMALLEST_SD, Math.hypot(relativeSd, step / Math.sqrt(12) / value));
  const log = Math.log(value);
  const seen = bound ? truncatedNormal(mean, sd, log, bound).mean : log;
  return Math.max(-CUT * sd, Math.min(CUT * sd, seen - mean));
}

function checked({ day, value, relativeSd }: NitrateReading): void {
  finite(day, 'day of reading', 'd');
  positive(value, 'reading');
  inRange(relativeSd, Number.MIN_VALUE, 1, 'relative uncertainty');
}
