import type { Addition, WaterChange } from './filter/nitrate-types.ts';
import { finite, inRange, notNegative, positive } from './numeric/range.ts';
import { coverageFactor } from './statistics/student.ts';

/** A reading of a level with its standard uncertainty, in one unit. */
export interface BalanceReading {
  day: number;
  value: number;
  u: number;
}

/** What was done to the water meanwhile. */
export interface BalanceEvents {
  changes?: readonly WaterChange[];
  /** Doses, as the rise of the level that each makes. */
  doses?: readonly Addition[];
  /** Relative standard uncertainty of all doses together (strength, volume of the system). */
  doseRelativeSd?: number;
}

/** Net production a day, below 0 where the water uses more than it makes. */
export interface NetRate {
  /** Change of the level a day with changes and doses taken out. */
  perDay: number;
  /** Standard uncertainty: of the readings (enlarged where they scatter more than stated) and of the doses. */
  sd: number;
  /** Interval that holds the true rate with the probability asked for. */
  low: number;
  high: number;
  /** Level at the last reading, fitted, with its standard uncertainty and its covariance with the rate. */
  level: number;
  levelSd: number;
  cov: number;
  readings: number;
  /** Squared deviations from the fit over their variances, and the degrees of freedom. */
  chiSquare: number;
  dof: number;
}

/**
 * Net production a day (demand is its negative) from two or more readings at irregular times, with every water change
 * and dose between them taken out exactly: between events the level rises by a steady rate, a change takes it to
 * N(1-f) + s f. Weighted least squares over the level at the first reading and the rate; exact for two readings.
 * On one moment a reading comes before a change or dose.
 *
 * Aitken 1935 (weighted least squares), GUM 5.1.2 for the doses. The interval takes Student's factor where the
 * readings scatter more than stated, the normal factor else.
 *
 * @param level probability of the interval (0.95 when left out)
 * @throws RangeError with fewer than two readings, all at one time, or an impossible number
 */
export function netRate(
  readings: readonly BalanceReading[],
  events: BalanceEvents = {},
  level = 0.95,
): NetRate {
  const sorted = checkedReadings(readings);
  const rows = exposures(sorted, events);
  const fit = weightedLine(sorted, rows);
  const doseSd = notNegative(events.doseRelativeSd ?? 0, 'relative uncertainty of doses') * fit.byDoses;
  const scatter = fit.dof > 0 ? Math.max(1, Math.sqrt(fit.chiSquare / fit.dof)) : 1;
  const sd = Math.hypot(fit.rateSd * scatter, doseSd);
  const factor = coverageFactor(level, scatter > 1 ? fit.dof : Infinity);
  return {
    perDay: fit.rate,
    sd,
    low: fit.rate - factor * sd,
    high: fit.rate + factor * sd,
    level: fit.level,
    levelSd: fit.levelSd * scatter,
    cov: fit.cov * scatter ** 2,
    readings: sorted.length,
    chiSquare: fit.chiSquare,
    dof: fit.dof,
  };
}

/**
 * One reading as a line in the unknowns: value = kept * first level + days * rate + added, where `kept` is the part
 * of the first water still there, `days` the days of production still there, `added` what changes and doses brought
 * (`dosed`: the doses' part).
 */
interface Exposure {
  kept: number;
  days: number;
  added: number;
  dosed: number;
}

function exposures(
  readings: readonly BalanceReading[],
  { changes = [], doses = [] }: BalanceEvents,
): Exposure[] {
  const done = inTime([...changes, ...doses]);
  let day = readings[0]?.day ?? 0;
  const mixture = new Mixture();
  let next = done.findIndex((event) => event.day >= day);
  if (next < 0) next = done.length;
  return readings.map((reading) => {
    for (let event = done[next]; event && event.day < reading.day; event = done[next]) {
      mixture.wait(day, event.day);
      day = event.day;
      if ('rise' in event) mixture.dose(event.rise);
      else mixture.change(event);
      next += 1;
    }
    mixture.wait(day, reading.day);
    day = reading.day;
    return mixture.seen();
  });
}

/** In order of time; what is already so stays as it is. */
function inTime<T extends { day: number }>(events: T[]): T[] {
  const inOrder = events.every(({ day }, i) => finite(day, 'day', 'd') >= (events[i - 1]?.day ?? day));
  return inOrder ? events : events.sort((a, b) => a.day - b.day);
}

/** What is left in the water of its first level, of the days of production, and of what was added. */
class Mixture {
  #kept = 1;
  #days = 0;
  #added = 0;
  #dosed = 0;

  wait(from: number, to: number): void {
    this.#days = this.#days + to - from;
  }

  dose(rise: number): void {
    finite(rise, 'rise by dose');
    this.#added += rise;
    this.#dosed += rise;
  }

  change({ fraction, makeUp }: WaterChange): void {
    const stays = 1 - inRange(fraction, 0, 1, 'fraction changed');
    this.#kept *= stays;
    this.#days *= stays;
    this.#added = this.#added * stays + notNegative(makeUp, 'level in make-up water') * fraction;
    this.#dosed *= stays;
  }

  seen(): Exposure {
    return { kept: this.#kept, days: this.#days, added: this.#added, dosed: this.#dosed };
  }
}

function weightedLine(readings: readonly BalanceReading[], rows: readonly Exposure[]) {
  let [kk, kd, dd, ky, dy, ks, ds] = [0, 0, 0, 0, 0, 0, 0];
  for (const [i, { kept, days, added, dosed: dose }] of rows.entries()) {
    const { value, u } = readings[i] as BalanceReading;
    const w = 1 / (u * u);
    const y = value - added;
    kk += w * kept * kept;
    kd += w * kept * days;
    dd += w * days * days;
    ky += w * kept * y;
    dy += w * days * y;
    ks += w * kept * dose;
    ds += w * days * dose;
  }
  const det = kk * dd - kd * kd;
  positive(det / (kk * kk), 'spread of the readings in time', 'd2');
  const first = (dd * ky - kd * dy) / det;
  const rate = (kk * dy - kd * ky) / det;
  const last = rows.at(-1) as Exposure;
  const chiSquare = rows.reduce((sum, { kept, days, added }, i) => {
    const { value, u } = readings[i] as BalanceReading;
    return sum + ((value - kept * first - days * rate - added) / u) ** 2;
  }, 0);
  const [varFirst, varRate, cross] = [dd / det, kk / det, -kd / det];
  return {
    rate,
    rateSd: Math.sqrt(varRate),
    level: last.kept * first + last.days * rate + last.added,
    levelSd: Math.sqrt(
      last.kept ** 2 * varFirst + last.days ** 2 * varRate + 2 * last.kept * last.days * cross,
    ),
    cov: last.kept * cross + last.days * varRate,
    byDoses: Math.abs((kk * ds - kd * ks) / det),
    chiSquare,
    dof: readings.length - 2,
  };
}

function checkedReadings(readings: readonly BalanceReading[]): BalanceReading[] {
  inRange(readings.length, 2, Infinity, 'number of readings');
  for (const { day, value, u } of readings) {
    finite(day, 'day of reading', 'd');
    finite(value, 'reading');
    positive(u, 'standard uncertainty of the reading');
  }
  return [...readings].sort((a, b) => a.day - b.day);
}
