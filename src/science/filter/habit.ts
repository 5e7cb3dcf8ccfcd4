import { type Addition, type Habit, NITRATE_DEFAULTS, type WaterChange } from './nitrate-types.ts';

/** A change of all water counts as 95 % in the rate of exchange, so that the rate stays finite. */
const LARGEST_FRACTION = 0.95;
/** A log shorter than this counts as this long, so that one change does not make a habit. */
const SHORTEST_LOG_DAYS = 7;

/** Running means a day of logged changes and additions, older ones counting exponentially less. */
export class HabitMeans {
  readonly #memory: number;
  readonly #start: number;
  #day: number;
  #fraction = 0;
  #exchange = 0;
  #makeUp = 0;
  #addition = 0;

  /** @param start first day of the log; @param memory in days */
  constructor(start: number, memory: number) {
    this.#start = start;
    this.#day = start;
    this.#memory = memory;
  }

  change({ day, fraction, makeUp }: WaterChange): void {
    this.#fadeTo(day);
    this.#fraction += fraction;
    this.#exchange -= Math.log(1 - Math.min(fraction, LARGEST_FRACTION));
    this.#makeUp += fraction * makeUp;
  }

  add({ day, rise }: Addition): void {
    this.#fadeTo(day);
    this.#addition += rise;
  }

  at(day: number): Habit {
    this.#fadeTo(day);
    const days = Math.max(day - this.#start, SHORTEST_LOG_DAYS);
    const span = -this.#memory * Math.expm1(-days / this.#memory);
    return {
      fraction: this.#fraction / span,
      exchange: this.#exchange / span,
      makeUp: this.#fraction > 0 ? this.#makeUp / this.#fraction : 0,
      addition: this.#addition / span,
    };
  }

  #fadeTo(day: number): void {
    const kept = Math.exp(-(day - this.#day) / this.#memory);
    this.#fraction *= kept;
    this.#exchange *= kept;
    this.#makeUp *= kept;
    this.#addition *= kept;
    this.#day = day;
  }
}

interface Means {
  long: HabitMeans;
  late: HabitMeans;
}

/**
 * The habit as a forecast takes it: the long mean, since a change that was not logged or came late says little, but
 * never further from the late one than `slack` times either way, so that changes that have stopped are seen in three
 * weeks. Constants by simulation, in DEVELOPERS.md.
 */
export class KeptHabit {
  readonly #usual: Means;
  readonly #all: Means;
  readonly #slack: number;
  /** The habit before the latest change that was made once; null before any. */
  #before: Habit | null = null;

  /** @param start first day of the log; @param memory and @param lateMemory in days */
  constructor(start: number, memory: number, lateMemory: number, slack: number) {
    const means = () => ({ long: new HabitMeans(start, memory), late: new HabitMeans(start, lateMemory) });
    this.#usual = means();
    this.#all = means();
    this.#slack = slack;
  }

  change(change: WaterChange): void {
    if (change.once) this.#before = this.at(change.day);
    for (const { long, late } of change.once ? [this.#all] : [this.#usual, this.#all]) {
      long.change(change);
      late.change(change);
    }
  }

  add(addition: Addition): void {
    for (const { long, late } of [this.#usual, this.#all]) {
      long.add(addition);
      late.add(addition);
    }
  }

  /** Changes made once may stand in for the usual ones that they replaced, but never make more of a habit than there was. */
  at(day: number): Habit {
    const usual = this.#kept(this.#usual, day);
    const before = this.#before;
    if (before === null) return usual;
    const all = this.#kept(this.#all, day);
    return {
      ...usual,
      fraction: Math.max(usual.fraction, Math.min(all.fraction, before.fraction)),
      exchange: Math.max(usual.exchange, Math.min(all.exchange, before.exchange)),
      makeUp: usual.fraction > 0 ? usual.makeUp : all.makeUp,
    };
  }

  #kept(means: Means, day: number): Habit {
    const [long, late] = [means.long.at(day), means.late.at(day)];
    return {
      fraction: this.#near(long.fraction, late.fraction),
      exchange: this.#near(long.exchange, late.exchange),
      makeUp: long.makeUp,
      addition: this.#near(long.addition, late.addition),
    };
  }

  #near(long: number, late: number): number {
    return Math.min(Math.max(long, late / this.#slack), late * this.#slack);
  }
}

/**
 * The habit of changes on a day, as the nitrate filter takes it.
 *
 * @param since first day of the log; changes after `day` are left out
 */
export function exchangeHabit(changes: readonly WaterChange[], since: number, day: number): Habit {
  const { habitMemory, lateHabitMemory, habitSlack } = NITRATE_DEFAULTS;
  const habit = new KeptHabit(since, habitMemory, lateHabitMemory, habitSlack);
  for (const change of changes) if (change.day <= day) habit.change(change);
  return habit.at(day);
}
