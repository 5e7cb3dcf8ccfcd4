import { setTimeout as wait } from 'node:timers/promises';

/** Somebody who looks at a public tag ten times a second, at each instance in turn, and at the next where one does not answer. */
export class Buyer {
  readonly counted = { replica: 0, primary: 0, failed: 0, longestGapMs: 0 };
  readonly #addresses: readonly string[];
  readonly #token: string;
  #isOn = true;

  constructor(addresses: readonly string[], token: string) {
    this.#addresses = addresses;
    this.#token = token;
  }

  async run(): Promise<void> {
    let last = performance.now();
    for (let n = 0; this.#isOn; n += 1) {
      if (await this.#look(this.#addresses[n % this.#addresses.length] ?? '')) {
        this.counted.longestGapMs = Math.max(this.counted.longestGapMs, performance.now() - last);
        last = performance.now();
      }
      await wait(100);
    }
  }

  async #look(address: string): Promise<boolean> {
    try {
      const answer = await fetch(`${address}/t/${this.#token}`, { signal: AbortSignal.timeout(10_000) });
      await answer.text();
      if (answer.status !== 200) throw new Error(`answered ${answer.status}`);
      this.counted[answer.headers.get('x-read-from') === 'replica' ? 'replica' : 'primary'] += 1;
      return true;
    } catch {
      this.counted.failed += 1;
      return false;
    }
  }

  stop(): void {
    this.#isOn = false;
  }
}
