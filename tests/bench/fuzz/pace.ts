import type { Visitor } from '../../support/service.ts';

/** How long one answer took. */
interface Taken {
  what: string;
  /** By the clock, and of the service's processor, ms. */
  ms: number;
  cpuMs: number;
  /** How many times as long as a bare page at that time. */
  times: number;
}

/** A bare page is asked for after so many requests, and its pace is the median of the last so many. */
const every = 20;
const remembered = 15;

/**
 * Measures answers beside a bare page that is asked for all along, so that a busy machine is not taken for a slow route:
 * the same request takes ten times as long beside ten busy neighbours, and so does the bare page.
 */
export class Pace {
  readonly #visitor: Visitor;
  readonly #bare: number[] = [];
  readonly #slowest = new Map<string, Taken>();
  #asked = 0;

  constructor(visitor: Visitor) {
    this.#visitor = visitor;
  }

  /** Asks, and notes how long it took under the name of what was asked for. */
  async of<T>(what: string, ask: () => Promise<T>): Promise<T> {
    if (this.#asked % every === 0) await this.#measureBare();
    this.#asked += 1;
    const [began, used] = [performance.now(), process.cpuUsage()];
    const answer = await ask();
    const ms = performance.now() - began;
    const { user, system } = process.cpuUsage(used);
    const taken = { what, ms, cpuMs: (user + system) / 1000, times: ms / this.bareMs };
    if (taken.times > (this.#slowest.get(what)?.times ?? 0)) this.#slowest.set(what, taken);
    return answer;
  }

  async #measureBare(): Promise<void> {
    const began = performance.now();
    await this.#visitor.get('/account');
    this.#bare.push(performance.now() - began);
    if (this.#bare.length > remembered) this.#bare.shift();
  }

  /** What a bare page takes now, ms. */
  get bareMs(): number {
    return this.#bare.toSorted((a, b) => a - b)[Math.floor(this.#bare.length / 2)] ?? 1;
  }

  /** The slowest of all that was asked for, by times of a bare page. */
  slowest(count: number): Taken[] {
    return [...this.#slowest.values()].sort((a, b) => b.times - a.times).slice(0, count);
  }
}

/** "412 ms, 3.1 times a bare page, 120 ms of the processor: GET /stock" */
export const takenWords = ({ what, ms, cpuMs, times }: Taken): string =>
  `${Math.round(ms)} ms, ${times.toFixed(1)} times a bare page, ${Math.round(cpuMs)} ms of the processor: ${what}`;
