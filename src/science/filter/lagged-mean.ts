/**
 * A system's own usual value: the mean of samples at least `lag` days old, older ones counting exponentially less
 * (`memory` days). Samples must come in order of time and evenly spaced, for each counts the same when new.
 */
export class LaggedMean {
  readonly #lag: number;
  readonly #memory: number;
  #waiting: { day: number; value: number }[] = [];
  #sum = 0;
  #weight = 0;
  #taken = Number.NaN;

  constructor(lagDays: number, memoryDays: number) {
    this.#lag = lagDays;
    this.#memory = memoryDays;
  }

  add(day: number, value: number): void {
    this.#waiting.push({ day, value });
  }

  /** The mean as known at `day`, or null while no sample is old enough. */
  at(day: number): number | null {
    while (this.#waiting[0] && this.#waiting[0].day <= day - this.#lag) this.#take(this.#waiting[0]);
    return this.#weight > 0 ? this.#sum / this.#weight : null;
  }

  #take(sample: { day: number; value: number }): void {
    this.#waiting.shift();
    const kept = this.#weight > 0 ? Math.exp(-(sample.day - this.#taken) / this.#memory) : 0;
    this.#sum = this.#sum * kept + sample.value;
    this.#weight = this.#weight * kept + 1;
    this.#taken = sample.day;
  }
}
