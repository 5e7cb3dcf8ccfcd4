import { type NetRate, netRate } from './balance.ts';
import { finite, inRange, positive } from './numeric/range.ts';
import { type Crossing, daysToLimit } from './statistics/crossing.ts';
import { coverageFactor } from './statistics/student.ts';

/** A size (length, area or mass, any unit) measured on a day. */
export interface Measurement {
  day: number;
  size: number;
}

/** Exponential growth fitted to measurements. */
export interface Growth {
  /** Specific growth rate a day, with its SD and 95 % interval; 0.01 is 1 % a day. */
  perDay: number;
  sd: number;
  low: number;
  high: number;
  /** Days in which the size doubles; null when it does not grow. */
  doublingDays: number | null;
  /** Days of the first and last measurement, and the fit (of ln size, level on the last day). */
  firstDay: number;
  lastDay: number;
  fit: NetRate;
}

/**
 * Specific growth rate, the slope of ln(size) over time, from two or more measurements (of two: ln(size2/size1)/days).
 *
 * Definition: Hopkins 1992 (from memory); least squares on ln(size). Valid while growth is exponential: a piece that
 * nears its final size, or was cut in between, needs a fit of its own stretch.
 *
 * @param relativeSd relative standard uncertainty of one measurement (0.05 when left out); the error is larger where
 * the measurements scatter more
 */
export function growthRate(measurements: readonly Measurement[], relativeSd = 0.05): Growth {
  inRange(positive(relativeSd, 'relative uncertainty'), 0, 1, 'relative uncertainty');
  const readings = measurements.map(({ day, size }) => ({
    day,
    value: Math.log(positive(size, 'size')),
    u: relativeSd,
  }));
  const fit = netRate(readings);
  return {
    perDay: fit.perDay,
    sd: fit.sd,
    low: fit.low,
    high: fit.high,
    doublingDays: fit.perDay > 0 ? Math.LN2 / fit.perDay : null,
    firstDay: Math.min(...measurements.map(({ day }) => day)),
    lastDay: Math.max(...measurements.map(({ day }) => day)),
    fit,
  };
}

export interface SizeForecast {
  size: number;
  low: number;
  high: number;
  /** True before the first measurement, or later than the last by more than their span. */
  extrapolated: boolean;
}

/**
 * Size on a day if growth goes on as fitted, with the 95 % interval of the fit (a single piece scatters around it).
 * Days far beyond the measurements are marked.
 */
export function sizeOn(growth: Growth, day: number): SizeForecast {
  const ahead = finite(day, 'day', 'd') - growth.lastDay;
  const { firstDay, lastDay } = growth;
  const { level, levelSd, perDay, sd, cov, chiSquare, dof } = growth.fit;
  const spread = Math.sqrt(Math.max(0, levelSd ** 2 + 2 * ahead * cov + (ahead * sd) ** 2));
  const factor = coverageFactor(0.95, dof > 0 && chiSquare > dof ? dof : Infinity);
  const middle = level + ahead * perDay;
  return {
    size: Math.exp(middle),
    low: Math.exp(middle - factor * spread),
    high: Math.exp(middle + factor * spread),
    extrapolated: ahead > lastDay - firstDay || day < firstDay,
  };
}

/** Days from the last measurement until a size is reached, with a 90 % interval (`Crossing`). */
export function daysToSize(growth: Growth, size: number): Crossing {
  const { level, levelSd, perDay, sd, cov } = growth.fit;
  return daysToLimit({ level, levelSd, perDay, sd, cov }, Math.log(positive(size, 'size')));
}
