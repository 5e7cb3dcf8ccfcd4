import { setImmediate as realImmediate } from 'node:timers';

interface Timer {
  at: number;
  turn: number;
  act(): void;
}

const real = {
  setTimeout: globalThis.setTimeout,
  clearTimeout: globalThis.clearTimeout,
  Date: globalThis.Date,
  random: Math.random,
};

/**
 * Time and chance of a simulated world. While `run` lasts, `setTimeout`, `Date` and `Math.random` are those of this
 * world for all code of the process: hours pass as fast as there is something to do, and the same way each time.
 */
export class VirtualTime {
  readonly #timers = new Map<number, Timer>();
  readonly #chance: () => number;
  #now: number;
  #turn = 0;

  constructor(start: Date, chance: () => number) {
    this.#now = start.getTime();
    this.#chance = chance;
  }

  get now(): number {
    return this.#now;
  }

  after(ms: number, act: () => void): number {
    this.#turn += 1;
    this.#timers.set(this.#turn, { at: this.#now + Math.max(0, ms), turn: this.#turn, act });
    return this.#turn;
  }

  wait(ms: number): Promise<void> {
    return new Promise((resolve) => this.after(ms, () => resolve()));
  }

  /** Lets the world run until the work is done. @throws Error when nothing can happen any more, or too much does */
  async run<T>(work: () => Promise<T>): Promise<T> {
    this.#takeOver();
    try {
      let result: { value: T } | { error: unknown } | null = null;
      work().then(
        (value) => {
          result = { value };
        },
        (error) => {
          result = { error };
        },
      );
      for (let steps = 0; result === null; steps++) {
        if (steps > 100_000) throw new Error('the world never comes to rest');
        await settled();
        if (result === null) this.#step();
      }
      return outcome<T>(result);
    } finally {
      this.#giveBack();
    }
  }

  #step(): void {
    let next: Timer | undefined;
    for (const timer of this.#timers.values())
      if (next === undefined || timer.at < next.at || (timer.at === next.at && timer.turn < next.turn))
        next = timer;
    if (next === undefined) throw new Error('everybody waits for nothing');
    this.#timers.delete(next.turn);
    this.#now = Math.max(this.#now, next.at);
    next.act();
  }

  #takeOver(): void {
    const now = () => this.#now;
    globalThis.setTimeout = ((act: () => void, ms = 0) => this.after(ms, act)) as never;
    globalThis.clearTimeout = ((turn: number | undefined) => this.#timers.delete(turn ?? 0)) as never;
    globalThis.Date = class extends real.Date {
      constructor(...given: [] | [number | string | Date]) {
        super(given.length === 0 ? now() : given[0]);
      }
      static override now() {
        return now();
      }
    } as DateConstructor;
    Math.random = this.#chance;
  }

  #giveBack(): void {
    globalThis.setTimeout = real.setTimeout;
    globalThis.clearTimeout = real.clearTimeout;
    globalThis.Date = real.Date;
    Math.random = real.random;
  }
}

/** Every promise that can go on has gone on. */
const settled = () => new Promise<void>((resolve) => realImmediate(() => resolve()));

function outcome<T>(result: { value: T } | { error: unknown }): T {
  if ('error' in result) throw result.error;
  return result.value;
}
