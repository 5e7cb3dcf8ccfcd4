import { type Answer, fetchRound, type Result, sendEntries, type Trouble } from './network.ts';
import type { Store } from './store.ts';
import type { Kept, Round } from './types.ts';

/** How sending goes. */
export interface Sending {
  /** Since when nothing goes through, and why; null while all is well. */
  trouble: Trouble | null;
  since: Date | null;
}

interface Hooks {
  /** Something changed: entries were taken or refused, trouble came or went. */
  changed(sending: Sending): void;
  /** A round as it stands now, after entries were taken. */
  fetched(round: Round): Promise<void>;
}

const atOnce = 50;
const firstWait = 2000;
const longestWait = 60_000;

/** Sends what waits, in order of tapping, until the service has it; waits longer each time that nothing goes through. */
export class Sender {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #hooks: Hooks;
  #csrf: string | null = null;
  #sending: Sending = { trouble: null, since: null };
  #wait = firstWait;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #running = false;
  #again = false;

  constructor(store: Store, roundId: string, hooks: Hooks) {
    this.#store = store;
    this.#roundId = roundId;
    this.#hooks = hooks;
    addEventListener('online', () => this.kick());
  }

  /** Tries at once, however long the next try was to wait for. */
  kick(): void {
    clearTimeout(this.#timer);
    this.#wait = firstWait;
    void this.#run();
  }

  /** Fetches the round anew and, with it, the token that sending needs. */
  async refresh(): Promise<boolean> {
    const round = await fetchRound(this.#roundId);
    if (!round.ok) {
      this.#report(round.trouble);
      return false;
    }
    this.#csrf = round.value.csrf;
    this.#report(null);
    await this.#hooks.fetched(round.value);
    return true;
  }

  async #run(): Promise<void> {
    this.#again = true;
    if (this.#running) return;
    this.#running = true;
    try {
      while (this.#again) {
        this.#again = false;
        await this.#sendAll();
      }
    } finally {
      this.#running = false;
    }
    if (this.#sending.trouble !== null) this.#later();
  }

  #later(): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#run(), this.#wait * (0.75 + Math.random() / 2));
    this.#wait = Math.min(this.#wait * 2, longestWait);
  }

  async #sendAll(): Promise<void> {
    if (this.#csrf === null && !(await this.refresh())) return;
    let sent = 0;
    for (;;) {
      const batch = await this.#nextBatch();
      if (batch.length === 0) break;
      const result = await this.#send(batch);
      if (!result.ok) {
        this.#report(result.trouble);
        return;
      }
      await this.#settle(result.value);
      this.#report(null);
      sent += batch.length;
    }
    if (sent > 0 || this.#sending.trouble !== null) await this.refresh();
  }

  /** The oldest entries of one round; from now on they may have reached the service. */
  async #nextBatch(): Promise<Kept[]> {
    const waiting = (await this.#store.all()).filter((kept) => kept.standing === 'waiting');
    const batch = waiting.filter((kept) => kept.roundId === waiting[0]?.roundId).slice(0, atOnce);
    const ids = new Set(batch.map((kept) => kept.id));
    await this.#store.mark((kept) => ids.has(kept.id), { tried: true });
    return batch;
  }

  async #send(batch: Kept[]): Promise<Result<Answer[]>> {
    const roundId = batch[0]?.roundId ?? this.#roundId;
    const entries = batch.map((kept) => kept.entry);
    const result = await sendEntries(roundId, this.#csrf ?? '', entries);
    if (!result.ok && result.trouble === 'no such round') {
      const why = 'The service knows no such round any more.';
      return { ok: true, value: entries.map(({ id }) => ({ id, outcome: 'refused', why })) };
    }
    if (result.ok || result.trouble !== 'old token') return result;
    return (await this.refresh()) ? sendEntries(roundId, this.#csrf ?? '', entries) : result;
  }

  async #settle(answers: readonly Answer[]): Promise<void> {
    for (const { id, outcome, why = '' } of answers) {
      const standing = outcome === 'refused' ? 'refused' : 'taken';
      await this.#store.mark((kept) => kept.id === id, { standing, why });
    }
  }

  #report(trouble: Trouble | null): void {
    const since = trouble === null ? null : (this.#sending.since ?? new Date());
    this.#sending = { trouble, since };
    if (trouble === null) this.#wait = firstWait;
    this.#hooks.changed(this.#sending);
  }
}
