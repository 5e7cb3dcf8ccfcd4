import { scaleLinear } from 'd3-scale';
import { finite, inRange, notNegative, positive } from '../numeric/range.ts';

/** One alkalinity reading; `value` and `sd` share any unit, named by `perDkh` in the options. */
export interface SwingReading {
  day: number;
  value: number;
  /** Standard uncertainty of the test. */
  sd: number;
  /** True when a repeat agreed: its deviation counts up to 4 SD instead of 2.5. */
  confirmed?: boolean;
  /** The first by another kit, which may read off the one before: the own mean begins anew with it. */
  otherKit?: boolean;
}

/** Constants of the watch on swing. Sizes are in the readings' unit; see `swingOptions`. */
export interface SwingOptions {
  /** Readings over which the own mean is taken. */
  meanMemory: number;
  /** Readings over which the long mean is taken, whose spread tells a level that wanders. */
  longMemory: number;
  /** A reading moves the own mean by at most this many SD. */
  meanCut: number;
  /** Age in days from which a reading's deviation counts into the own variance. */
  varianceLag: number;
  /** Readings over which the own variance is taken. */
  varianceMemory: number;
  /** The own variance is at least the test's plus this squared. */
  floor: number;
  /** The water's own part of the variance is at least this squared. */
  smallestSwing: number;
  /** The usual swing assumed before the own one is known, weighing as `firstWeight` readings. */
  firstSwing: number;
  firstWeight: number;
  /** Deviations count up to this many SD; those of confirmed readings to `confirmedCut`. */
  cut: number;
  confirmedCut: number;
}

/**
 * The tuned constants: the mean is short, so that a level that wanders or a kit that reads a little higher is not taken
 * for a swing; in steady water that costs nothing. For readings in a unit of which `perDkh` make 1 dKH (1 for dKH, 0.357 for meq/L, 17.85 for
 * mg/L as CaCO3).
 */
export function swingOptions(perDkh: number): SwingOptions {
  positive(perDkh, 'units to one dKH');
  return {
    meanMemory: 5,
    longMemory: 30,
    meanCut: 2.2,
    varianceLag: 21,
    varianceMemory: 180,
    floor: 0.03 * perDkh,
    smallestSwing: 0.05 * perDkh,
    firstSwing: 0.1 * perDkh,
    firstWeight: 10,
    cut: 2.5,
    confirmedCut: 4,
  };
}

/** The watch on swing after one reading. */
export interface SwingStep {
  day: number;
  reading: SwingReading;
  /** The own mean before the reading. */
  mean: number;
  /** Usual SD of a reading around the own mean (test and water together). */
  usualSd: number;
  /** The water's own part of it. */
  usualSwing: number;
  /** Deviation from the own mean over the usual SD. */
  z: number;
  /** Ratio of the variance of readings when the swing has doubled to the usual one. */
  ratio: number;
  /** The cumulative sum: evidence, as a log likelihood ratio, that the swing has doubled. */
  sum: number;
  /** Readings whose deviations make up the own variance so far; rules wait for about 20. */
  learntFrom: number;
  /** How far the level wanders by itself, 0 (steady) to 1: what `swingLimit` asks for. */
  wander: number;
}

/**
 * Watches for a doubled swing: a cumulative sum of the log likelihood ratio of each reading's squared deviation from
 * the system's own slow mean, S = max(0, S + min(z^2, c^2)(1 - 1/r)/2 - ln(r)/2). Readings may be irregular and are
 * taken in order of time. Alert limits: `swingLimit`.
 *
 * CUSUM: Page 1954; for a variance: Hawkins & Olwell 1998, Cumulative Sum Charts, section 4 (from memory). Constants
 * by simulation, in DEVELOPERS.md. With tests to 0.1 dKH daily a doubled swing is found after a median of about 20
 * days; with coarser or rarer tests later.
 */
export function watchSwing(readings: readonly SwingReading[], options: SwingOptions): SwingStep[] {
  const sorted = [...readings].sort((a, b) => a.day - b.day);
  const usual = new UsualSpread(options, options.meanMemory);
  const long = new UsualSpread(options, options.longMemory);
  let sum = 0;
  return sorted.map((reading) => {
    checked(reading);
    const { mean, variance, water, learntFrom } = usual.before(reading);
    // A first reading by another kit deviates from nothing: as far off as usual, it speaks neither way.
    const z = reading.otherKit ? 1 : (reading.value - mean) / Math.sqrt(variance);
    const ratio = (variance + 3 * water) / variance;
    const limit = reading.confirmed ? options.confirmedCut : options.cut;
    sum = varianceCusum(sum, z, ratio, limit);
    const wander = wanderOf(long.before(reading).variance / variance, learntFrom);
    usual.take(reading);
    long.take(reading);
    return {
      day: reading.day,
      reading,
      mean,
      usualSd: Math.sqrt(variance),
      usualSwing: Math.sqrt(water),
      z,
      ratio,
      sum,
      learntFrom,
      wander,
    };
  });
}

/** Variance about the long mean over that about the own one: of a level that is steady, and of one that wanders. */
const wanderScale = scaleLinear([1.02, 1.2], [0, 1]).clamp(true);
/** Until it is known better a level is taken to wander, with this weight in readings. */
const wanderFirst = { ratio: 1.2, weight: 30 };

function wanderOf(ratio: number, learntFrom: number): number {
  const { ratio: first, weight } = wanderFirst;
  return wanderScale((ratio * learntFrom + first * weight) / (learntFrom + weight));
}

/**
 * One step of the variance CUSUM: the log likelihood ratio of N(0, r) to N(0, 1) at `z`, its square limited at
 * `limit`^2, added to the sum and kept at 0 or above.
 *
 * @param ratio r > 1, the ratio of the variances told apart
 */
export function varianceCusum(sum: number, z: number, ratio: number, limit = Infinity): number {
  return Math.max(0, sum + varianceEvidence(z, ratio, limit));
}

/** The logarithm of how much likelier `z`, its square limited at `limit`^2, is of N(0, r) than of N(0, 1); r > 1. */
export function varianceEvidence(z: number, ratio: number, limit = Infinity): number {
  inRange(ratio, 1 + 1e-9, Number.MAX_VALUE, 'ratio of variances');
  finite(z, 'deviation');
  const square = Math.min(z * z, limit * limit);
  return (square * (1 - 1 / ratio)) / 2 - Math.log(ratio) / 2;
}

/** By the usual gap between tests in days: the sum's limit at a test SD of 0.05, 0.1, 0.2, 0.3 dKH. */
const LIMITS = [
  { gap: 1, steady: [4.4, 4.1, 3.5, 3.2], wandering: [5.65, 4.75, 3.9, 3.5] },
  { gap: 2, steady: [3.4, 3.3, 3.0, 2.6], wandering: [4.7, 4.1, 3.5, 3.0] },
  { gap: 3.5, steady: [2.8, 2.8, 2.4, 2.1], wandering: [4.0, 3.6, 3.0, 2.6] },
];
const TEST_SDS = [0.05, 0.1, 0.2, 0.3];
/** The same as straight lines by the test's SD. */
const LIMIT_LINES = LIMITS.map(({ steady, wandering }) =>
  [steady, wandering].map((limits) => scaleLinear(TEST_SDS, limits).clamp(true)),
);

/**
 * The limit of the cumulative sum for about 0.5 false alerts a system-year, by the usual gap between tests (days), the
 * test's SD (dKH) and how far the level wanders by itself (`SwingStep.wander`): 4.1 for daily tests to 0.1 in steady
 * water, 4.75 where the level wanders, less for rarer or coarser tests. Straight lines between tuned values, level beyond
 * them; tuned by simulation on a usual swing of 0.1 dKH, wandering by an SD of 0.15 dKH over 20 days.
 */
export function swingLimit(gapDays: number, testSdDkh: number, wander: number): number {
  positive(gapDays, 'gap between tests', 'd');
  positive(testSdDkh, 'test SD', 'dKH');
  inRange(wander, 0, 1, 'share of wandering');
  const byGap = LIMIT_LINES.map((lines) => {
    const [low = 0, high = 0] = lines.map((line) => line(testSdDkh));
    return low + (high - low) * wander;
  });
  const gaps = LIMITS.map(({ gap }) => gap);
  return scaleLinear(gaps, byGap).clamp(true)(gapDays);
}

/**
 * Range (highest less lowest) of the readings in the `days` up to `now`; null with fewer than two. A number to show;
 * as a rule only on confirmed readings (`rangeLimit`).
 */
export function rangeOfLast(readings: readonly SwingReading[], now: number, days = 7): number | null {
  positive(days, 'days', 'd');
  const values = readings.filter((r) => r.day <= now && r.day > now - days).map((r) => r.value);
  return values.length < 2 ? null : Math.max(...values) - Math.min(...values);
}

/**
 * Largest 7-day range in steady water, by the test's SD, both in dKH: 0.5 at 0.05, 0.7 at 0.1, 1.1 at 0.2, between
 * and beyond on straight lines.
 */
export function rangeLimit(testSdDkh: number): number {
  notNegative(testSdDkh, 'test SD', 'dKH');
  return 0.3 + 4 * testSdDkh;
}

/** A system's own slow mean, and the variance of readings old enough not to be part of what is judged. */
class UsualSpread {
  readonly #options: SwingOptions;
  readonly #memory: number;
  #mean = Number.NaN;
  #count = 0;
  #spread: number | null = null;
  #learntFrom = 0;
  /** Readings since another kit came into use; null while none has. */
  #sinceKit: number | null = null;
  #waiting: { day: number; square: number }[] = [];

  constructor(options: SwingOptions, memory: number) {
    this.#options = options;
    this.#memory = memory;
  }

  before({ day, value, sd }: SwingReading) {
    const { varianceLag, floor, smallestSwing, firstSwing } = this.#options;
    while (this.#waiting[0] && this.#waiting[0].day <= day - varianceLag)
      this.#learn(this.#waiting[0].square);
    this.#spread ??= sd ** 2 + firstSwing ** 2;
    const variance = Math.max(this.#spread, sd ** 2 + floor ** 2);
    const water = Math.max(variance - sd ** 2, smallestSwing ** 2);
    // A mean of few readings is itself off by a part of their spread.
    const known =
      this.#sinceKit === null ? 1 : 1 + 1 / Math.min(this.#sinceKit, this.#memory) - 1 / this.#memory;
    const mean = this.#count === 0 ? value : this.#mean;
    return { mean, variance: variance * known, water: water * known, learntFrom: this.#learntFrom };
  }

  take(reading: SwingReading): void {
    const { meanCut } = this.#options;
    const { mean, variance } = this.before(reading);
    if (reading.otherKit && this.#count > 0) {
      [this.#mean, this.#sinceKit] = [reading.value, 1];
      return;
    }
    const reach = meanCut * Math.sqrt(variance);
    const step = Math.max(-reach, Math.min(reach, reading.value - mean));
    this.#count += 1;
    this.#sinceKit = this.#sinceKit === null ? null : this.#sinceKit + 1;
    this.#mean = mean + step / Math.min(this.#sinceKit ?? this.#count, this.#memory);
    if (this.#count > 1 && (this.#sinceKit ?? this.#memory) >= this.#memory)
      this.#waiting.push({ day: reading.day, square: step * step });
  }

  #learn(square: number): void {
    const { varianceMemory, firstWeight } = this.#options;
    this.#waiting.shift();
    this.#learntFrom += 1;
    const weight = 1 / Math.min(this.#learntFrom + firstWeight, varianceMemory);
    this.#spread = (this.#spread ?? square) * (1 - weight) + square * weight;
  }
}

function checked({ day, value, sd }: SwingReading): void {
  finite(day, 'day of reading', 'd');
  finite(value, 'reading');
  positive(sd, 'standard uncertainty of the reading');
}
