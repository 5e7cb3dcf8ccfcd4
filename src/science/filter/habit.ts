import type { Addition, Habit, WaterChange } from './nitrate-types.ts';

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
