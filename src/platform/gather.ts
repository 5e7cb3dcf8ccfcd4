import { setImmediate, setTimeout } from 'node:timers/promises';

/** How things that are asked for one by one are done together. */
interface Gathering<Item, Result> {
  /** Does some at once: a result for each, in their order. */
  together(items: readonly Item[]): Promise<readonly Result[]>;
  /** How much one counts. */
  size(item: Item): number;
  /** Done together at most, in the measure of `size`; a larger one goes by itself. */
  most: number;
  /** How long the first waits for others, in ms; 0: until what came in this turn of the loop is there. */
  waitMs: number;
}

interface Waiting<Item, Result> {
  item: Item;
  settle: { resolve(result: Result): void; reject(error: unknown): void };
}

/**
 * Gathers what comes at almost the same time and does it together: whatever comes while some is being done goes with the
 * next. Each is answered when its own is done, and by work that began after it was asked for. Where several fail together
 * each is done by itself, so that one that breaks holds up no other.
 */
class Gatherer<Item, Result> {
  readonly #how: Gathering<Item, Result>;
  readonly #whenIdle: () => void;
  #waiting: Waiting<Item, Result>[] = [];
  #isRunning = false;

  constructor(how: Gathering<Item, Result>, whenIdle: () => void) {
    this.#how = how;
    this.#whenIdle = whenIdle;
  }

  do(item: Item): Promise<Result> {
    return new Promise((resolve, reject) => {
      this.#waiting.push({ item, settle: { resolve, reject } });
      if (!this.#isRunning) void this.#run();
    });
  }

  async #run(): Promise<void> {
    this.#isRunning = true;
    await (this.#how.waitMs === 0 ? setImmediate() : setTimeout(this.#how.waitMs));
    while (this.#waiting.length > 0) await this.#doSome(this.#next());
    this.#isRunning = false;
    this.#whenIdle();
  }

  /** The first that fit together. */
  #next(): Waiting<Item, Result>[] {
    const { size, most } = this.#how;
    let sum = 0;
    const end = this.#waiting.findIndex(({ item }, i) => {
      sum += size(item);
      return i > 0 && sum > most;
    });
    return this.#waiting.splice(0, end === -1 ? this.#waiting.length : end);
  }

  async #doSome(some: readonly Waiting<Item, Result>[]): Promise<void> {
    try {
      const results = await this.#how.together(some.map(({ item }) => item));
      if (results.length !== some.length) throw new Error('not as many results as were asked for');
      for (const [i, { settle }] of some.entries()) settle.resolve(results[i] as Result);
    } catch (error) {
      if (some.length > 1) for (const one of some) await this.#doSome([one]);
      else some[0]?.settle.reject(error);
    }
  }
}

/** Gathers by a key: what has another one is done apart. Nothing is kept of a key that is not used. */
export class Gatherers<Item, Result> {
  readonly #how: Gathering<Item, Result>;
  readonly #byKey = new Map<string, Gatherer<Item, Result>>();

  constructor(how: Gathering<Item, Result>) {
    this.#how = how;
  }

  /** @returns what became of this one */
  do(key: string, item: Item): Promise<Result> {
    const gatherer =
      this.#byKey.get(key) ?? new Gatherer<Item, Result>(this.#how, () => this.#byKey.delete(key));
    this.#byKey.set(key, gatherer);
    return gatherer.do(item);
  }
}
