import { setTimeout as wait } from 'node:timers/promises';
import { uuidv7 } from 'uuidv7';
import type { Trouble } from '../../../src/browser/round/network.ts';
import { Sender, type Sending } from '../../../src/browser/round/sender.ts';
import { memoryStore } from '../../../src/browser/store/memory-store.ts';
import type { TabletEntry } from '../../../src/browser/store/types.ts';
import { overFailingLine, type Session } from './network.ts';

/** How often what goes wrong, of every request or tap. */
const odds = { cutBefore: 0.3, cutAfter: 0.2, reload: 0.15, signedOut: 0.06 };

/**
 * A tablet without a screen: the store keeps what is tapped, the sender sends it, as in the browser. The store outlives
 * the page, as a browser's does; a page that is reloaded hears of nothing it asked for.
 */
export class BenchTablet {
  readonly tapped: TabletEntry[] = [];
  readonly counted = { cuts: 0, reloads: 0, signedOut: 0 };
  readonly #store = memoryStore();
  readonly #session: Session;
  readonly #roundId: string;
  readonly #chance: () => number;
  #sender: Sender;
  #page = 0;
  #fair = false;
  /** What the foot of the screen would say. */
  #trouble: Trouble | null = null;

  constructor(session: Session, roundId: string, chance: () => number) {
    this.#session = session;
    this.#roundId = roundId;
    this.#chance = chance;
    this.#sender = this.#open();
  }

  #open(): Sender {
    const page = ++this.#page;
    const happens = (odd: number) => {
      const cut = !this.#fair && this.#chance() < odd;
      if (cut) this.counted.cuts += 1;
      return cut;
    };
    const weather = {
      cutBefore: () => happens(odds.cutBefore),
      cutAfter: () => happens(odds.cutAfter),
      gone: () => page !== this.#page,
    };
    const hooks = {
      changed: ({ trouble }: Sending) => {
        if (page === this.#page) this.#trouble = trouble;
      },
      fetched: (_: unknown, settled: ReadonlySet<string>) =>
        this.#store.remove(({ standing, id }) => standing === 'taken' && settled.has(id)),
    };
    const network = overFailingLine(this.#session, weather);
    return new Sender(this.#store, this.#roundId, hooks, network, { first: 2, longest: 20 });
  }

  /** Writes down what is tapped, then tries to send it; now and then the page or the session is lost meanwhile. */
  async tap(kind: string, fields: Record<string, string>): Promise<void> {
    const entry = { id: uuidv7(), kind, at: new Date().toISOString(), label: '', notedBy: '', ...fields };
    await this.#store.add(this.#roundId, entry, 'waiting');
    this.tapped.push(entry);
    this.#sender.sendNow();
    if (this.#chance() < odds.signedOut) {
      this.counted.signedOut += 1;
      this.#session.end();
    }
    await wait(this.#chance() * 12);
    if (this.#chance() < odds.reload) this.#reload();
  }

  #reload(): void {
    this.counted.reloads += 1;
    this.#sender.stop();
    this.#sender = this.#open();
    this.#sender.sendNow();
  }

  /**
   * The network is back for good, and somebody signs in whenever the foot asks for it: waits until nothing waits. False
   * where that never is. An answer that was on its way can end a session once more, in a browser too.
   */
  async settle(): Promise<boolean> {
    this.#fair = true;
    const until = Date.now() + 60_000;
    while (Date.now() < until) {
      const open = (await this.#store.all()).filter(({ standing }) => standing === 'waiting');
      if (open.length === 0) break;
      if (this.#trouble === 'signed out') {
        await this.#session.signIn();
        this.#trouble = null;
      }
      this.#sender.sendNow();
      await wait(5);
    }
    const left = (await this.#store.all()).filter(({ standing }) => standing !== 'taken');
    this.#sender.stop();
    this.#page += 1;
    return left.length === 0;
  }
}
