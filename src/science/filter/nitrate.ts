import { finite } from '../numeric/range.ts';
import { numberAfterBound } from './bounds.ts';
import {
  at,
  type Correction,
  correct,
  correctBound,
  type Estimate,
  loosen,
  predict,
  reset,
} from './estimate.ts';
import { KeptHabit } from './habit.ts';
import { LaggedMean } from './lagged-mean.ts';
import { inOrder, logStart } from './nitrate-events.ts';
import {
  type Addition,
  NITRATE_DEFAULTS,
  type NitrateHistory,
  type NitrateOptions,
  type NitrateReading,
  type NitrateState,
  type NitrateStep,
  type WaterChange,
} from './nitrate-types.ts';

/** The states: level N, net production P a day, relative kit bias b. */
const [N, P, B] = [0, 1, 2];

export interface NitrateTrack {
  /** The state after each reading, in order of time. */
  history: NitrateStep[];
  /** The state at `now`; null when there is no reading yet. */
  now: NitrateState | null;
}

/**
 * Follows a system's nitrate through its readings: level, net production and kit bias as the states of a robust
 * extended Kalman filter, every logged change and addition inside it. Between events the level rises by the
 * production; a change takes N to N(1-f) + s f; a new kit starts at bias 0 +- `kitSd`; a reading is N(1+b) with its
 * own uncertainty, pulled in at `cut` SD; "below detection" enters as a bound. On one day a kit opening comes
 * first, then readings, changes and additions (a test is taken before the change of the same hour).
 *
 * Valid for readings of 0 or above with a relative uncertainty in (0, 1] and fractions in [0, 1]; events after
 * `now` are left out. Design and constants: simulation study in DEVELOPERS.md; filter: Kalman 1960, Masreliez &
 * Martin 1977. Error: `levelSd` and its fellows, right as far as changes are logged truly.
 */
export function trackNitrate(
  input: NitrateHistory,
  now: number,
  options: Partial<NitrateOptions> = {},
): NitrateTrack {
  finite(now, 'now', 'd');
  const events = inOrder(input).filter((event) => event.day <= now);
  const first = events.find((event) => 'reading' in event);
  if (!first || !('reading' in first)) return { history: [], now: null };
  const filter = new NitrateFilter(first.reading, logStart(events), { ...NITRATE_DEFAULTS, ...options });
  const history: NitrateStep[] = [];
  for (const event of events) {
    if ('reading' in event) history.push(filter.read(event.reading));
    else if ('change' in event) filter.change(event.change);
    else if ('addition' in event) filter.add(event.addition);
    else filter.openKit(event.day);
  }
  return { history, now: filter.stateAt(now) };
}

class NitrateFilter {
  readonly #options: NitrateOptions;
  readonly #start: number;
  readonly #habit: KeptHabit;
  readonly #own: { level: LaggedMean; production: LaggedMean; exchange: LaggedMean };
  #day: number;
  #estimate: Estimate;
  #cutRun = 0;
  #daysSampled = 0;
  /** No number was read yet, only bounds. */
  #onlyBounds = true;
  #last: NitrateReading | null = null;

  constructor(first: NitrateReading, logStart: number, options: NitrateOptions) {
    const { firstProductionSd, kitSd, ownLag, ownMemory, smallLevel } = options;
    const guess = first.bound === 'below' ? first.value / 2 : first.value;
    const scale = Math.max(guess, smallLevel);
    this.#options = options;
    this.#start = first.day;
    this.#day = first.day;
    const { habitMemory, lateHabitMemory, habitSlack } = options;
    this.#habit = new KeptHabit(Math.min(first.day, logStart), habitMemory, lateHabitMemory, habitSlack);
    const ownMean = () => new LaggedMean(ownLag, ownMemory);
    this.#own = { level: ownMean(), production: ownMean(), exchange: ownMean() };
    this.#estimate = {
      mean: [guess, 0, 0],
      cov: [
        [scale ** 2, 0, 0],
        [0, (firstProductionSd * scale) ** 2, 0],
        [0, 0, kitSd ** 2],
      ],
    };
  }

  openKit(day: number): void {
    this.#advance(day);
    this.#estimate = reset(this.#estimate, B, 0, this.#options.kitSd);
  }

  add(addition: Addition): void {
    this.#habit.add(addition);
    if (addition.day < this.#start) return;
    this.#advance(addition.day);
    this.#estimate = {
      mean: [this.#mean(N) + addition.rise, this.#mean(P), this.#mean(B)],
      cov: this.#estimate.cov,
    };
  }

  change(change: WaterChange): void {
    this.#habit.change(change);
    if (change.day < this.#start) return;
    this.#advance(change.day);
    const { fraction, makeUp, fractionSd = 0 } = change;
    const doubt = ((this.#mean(N) - makeUp) * fractionSd) ** 2;
    this.#estimate = predict(
      this.#estimate,
      [
        [1 - fraction, 0, 0],
        [0, 1, 0],
        [0, 0, 1],
      ],
      [[doubt], [], []],
      [makeUp * fraction, 0, 0],
    );
  }

  read(reading: NitrateReading): NitrateStep {
    this.#advance(reading.day);
    const correction = this.#correct(reading);
    const jumped = this.#jumped(
      correction,
      reading.confirmed === true || numberAfterBound(this.#last, reading),
    );
    const opens = this.#onlyBounds && reading.bound === undefined && this.#last !== null;
    this.#estimate = jumped || opens ? this.#reopened(reading, correction, opens) : correction.estimate;
    this.#onlyBounds &&= reading.bound !== undefined;
    this.#last = reading;
    this.#knowLevelPositive();
    return { ...this.stateAt(reading.day), reading, surprise: correction.z, cut: correction.cut, jumped };
  }

  /** The state at `day`, which must not lie before the last event. */
  stateAt(day: number): NitrateState {
    this.#advance(day);
    const { cov } = this.#estimate;
    const level = this.#own.level.at(day);
    const production = this.#own.production.at(day);
    const exchange = this.#own.exchange.at(day);
    return {
      day,
      historyDays: day - this.#start,
      level: Math.max(0, this.#mean(N)),
      levelSd: Math.sqrt(at(cov, N, N)),
      production: this.#mean(P),
      productionSd: Math.sqrt(at(cov, P, P)),
      levelProductionCov: at(cov, N, P),
      kitBias: this.#mean(B),
      kitBiasSd: Math.sqrt(at(cov, B, B)),
      habit: this.#habit.at(day),
      own:
        level === null || production === null || exchange === null ? null : { level, production, exchange },
    };
  }

  /** Steps from one whole day since the first reading to the next, so that the own level samples every day. */
  #advance(day: number): void {
    while (this.#day < day) {
      const mark = this.#start + this.#daysSampled;
      if (this.#day === mark) {
        this.#sample();
        this.#daysSampled += 1;
      }
      this.#step(Math.min(this.#start + this.#daysSampled, day));
    }
  }

  #step(to: number): void {
    const dt = to - this.#day;
    const { levelNoise, productionNoise } = this.#options;
    const varN = (levelNoise * this.#scale(this.#mean(N))) ** 2;
    const varP = (productionNoise * this.#scale(this.#own.level.at(this.#day) ?? this.#mean(N))) ** 2;
    const cross = (varP * dt * dt) / 2;
    this.#estimate = produced(this.#estimate, dt, [varN * dt + (varP * dt ** 3) / 3, cross, varP * dt]);
    this.#keepLevelPositive();
    this.#day = to;
  }

  #sample(): void {
    this.#own.level.add(this.#day, this.#mean(N));
    this.#own.production.add(this.#day, this.#mean(P));
    this.#own.exchange.add(this.#day, this.#habit.at(this.#day).exchange);
  }

  #correct(reading: NitrateReading): Correction {
    const { value, relativeSd, step = 0, bound, otherKit, confirmed } = reading;
    const { kitSd, cut, confirmedCut } = this.#options;
    const level = this.#mean(N);
    const bias = otherKit ? 0 : this.#mean(B);
    const kitVariance = otherKit ? (kitSd * level) ** 2 : 0;
    const variance = (relativeSd * this.#scale(level)) ** 2 + step ** 2 / 12 + kitVariance;
    const sight = { expected: level * (1 + bias), slopes: [1 + bias, 0, otherKit ? 0 : level], variance };
    const limit = confirmed ? confirmedCut : cut;
    return bound
      ? correctBound(this.#estimate, sight, value, bound, limit)
      : correct(this.#estimate, sight, value, limit);
  }

  /** Several readings running were cut on one side, or something else bears out one that lies far off: no slip, but the water. */
  #jumped({ cut, z }: Correction, borneOut: boolean): boolean {
    const sameSide = Math.sign(z) === Math.sign(this.#cutRun);
    this.#cutRun = cut ? (sameSide ? this.#cutRun : 0) + Math.sign(z) : 0;
    const jumped = Math.abs(this.#cutRun) >= this.#options.jumpAfter || (cut && borneOut);
    if (jumped) this.#cutRun = 0;
    return jumped;
  }

  /** The level goes to the reading; where only bounds were read before, wherever that is. */
  #reopened(reading: NitrateReading, { z, sd }: Correction, opens: boolean): Estimate {
    const off = Math.max(Math.abs(z * sd), opens ? openAgain * Math.max(reading.value, this.#mean(N)) : 0);
    this.#estimate = loosen(this.#estimate, N, off ** 2);
    return this.#correct({ ...reading, confirmed: true }).estimate;
  }

  /** Near zero, that the level cannot lie below it says something on level and production alike. */
  #knowLevelPositive(): void {
    if (this.#mean(N) > 3 * Math.sqrt(at(this.#estimate.cov, N, N))) return;
    const variance = (0.01 * this.#options.smallLevel) ** 2;
    const sight = { expected: this.#mean(N), slopes: [1, 0, 0], variance };
    this.#estimate = correctBound(this.#estimate, sight, 0, 'above').estimate;
    this.#keepLevelPositive();
  }

  #keepLevelPositive(): void {
    if (this.#mean(N) < 0) this.#estimate = { ...this.#estimate, mean: [0, this.#mean(P), this.#mean(B)] };
  }

  #scale(level: number): number {
    return Math.max(level, this.#options.smallLevel);
  }

  #mean(state: number): number {
    return this.#estimate.mean[state] ?? 0;
  }
}

/** A level of which only bounds are known is anywhere within so many times the first number; own choice. */
const openAgain = 2;

/**
 * The estimate `dt` days on, level raised by production: F = [1 dt 0; 0 1 0; 0 0 1], with noise of level, of both and of
 * production. Written out, since the filter takes a step a day for a year and more.
 */
function produced(
  { mean, cov }: Estimate,
  dt: number,
  [noiseN, noiseNP, noiseP]: readonly [number, number, number],
): Estimate {
  const [level = 0, production = 0, bias = 0] = mean;
  const [[nn = 0, np = 0, nb = 0] = [], [pn = 0, pp = 0, pb = 0] = [], [bn = 0, bp = 0, bb = 0] = []] = cov;
  const crossed = np + dt * pp;
  return {
    mean: [level + dt * production, production, bias],
    cov: [
      [nn + dt * pn + crossed * dt + noiseN, crossed + noiseNP, nb + dt * pb],
      [pn + pp * dt + noiseNP, pp + noiseP, pb],
      [bn + bp * dt, bp, bb],
    ],
  };
}
