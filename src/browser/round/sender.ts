import { minuteMs } from '../../science/numeric/time.ts';
import type { EntryAnswer, Network, Result, Trouble } from './network.ts';
import type { Store } from './store.ts';
import type { QueuedEntry, QueuedPhoto, TabletRound } from './types.ts';

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
  fetched(round: TabletRound): Promise<void>;
}

/** Entries in one request (own choice): few enough that a slow network gets one through. */
const atOnce = 50;
/** How long to wait before the next try, ms: at first, and at most. */
const usualWaits = { first: 2000, longest: minuteMs };

/** Sends what waits, in order of tapping, until the service has it; waits longer each time that nothing goes through. */
export class Sender {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #hooks: Hooks;
  readonly #network: Network;
  readonly #waits: { first: number; longest: number };
  #csrf: string | null = null;
  #sending: Sending = { trouble: null, since: null };
  #wait: number;
  #stopped = false;
  #stale = false;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #running = false;
  #again = false;

  constructor(store: Store, roundId: string, hooks: Hooks, network: Network, waits = usualWaits) {
    this.#store = store;
    this.#roundId = roundId;
    this.#hooks = hooks;
    this.#network = network;
    this.#waits = waits;
    this.#wait = waits.first;
  }

  /** Sends nothing any more. */
  stop(): void {
    this.#stopped = true;
    clearTimeout(this.#timer);
  }

  /** Tries at once, however long the next try was to wait for. */
  sendNow(): void {
    clearTimeout(this.#timer);
    this.#wait = this.#waits.first;
    void this.#run();
  }

  /** Has the round fetched anew, after whatever is on its way. */
  refetch(): void {
    this.#stale = true;
    this.sendNow();
  }

  /** Fetches the round anew and, with it, the token that sending needs. */
  async refresh(): Promise<boolean> {
    const round = await this.#network.round(this.#roundId);
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
      while (this.#again && !this.#stopped) {
        this.#again = false;
        await this.#sendAll();
      }
    } finally {
      this.#running = false;
    }
    if (this.#sending.trouble !== null && !this.#stopped) this.#later();
  }

  #later(): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#run(), this.#wait * (0.75 + Math.random() / 2));
    this.#wait = Math.min(this.#wait * 2, this.#waits.longest);
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
    sent += await this.#sendPhotos();
    if (sent > 0 || this.#stale || this.#sending.trouble !== null) {
      this.#stale = false;
      await this.refresh();
    }
  }

  /** Photos whose entries are with the service, one at a time. @returns how many it has now */
  async #sendPhotos(): Promise<number> {
    let sent = 0;
    for (const photo of await this.#photosToSend()) {
      const result = await this.#sendPhoto(photo);
      if (result.ok) {
        await this.#store.removePhoto(photo.id);
        sent += 1;
      } else if (result.trouble === 'refused' || result.trouble === 'no such round') {
        await this.#store.refusePhoto(photo.id, result.why ?? 'The service does not take it.');
      } else {
        this.#report(result.trouble);
        return 0;
      }
      this.#report(null);
    }
    return sent;
  }

  async #photosToSend(): Promise<QueuedPhoto[]> {
    const held = new Set(
      (await this.#store.all())
        .filter(({ standing }) => standing === 'open' || standing === 'waiting')
        .map(({ id }) => id),
    );
    const photos = await this.#store.photos();
    return photos.filter((photo) => photo.standing === 'waiting' && !held.has(photo.entryId ?? ''));
  }

  async #sendPhoto(photo: QueuedPhoto): Promise<Result<unknown>> {
    const result = await this.#network.photo(this.#csrf ?? '', photo);
    if (result.ok || result.trouble !== 'old token') return result;
    return (await this.refresh()) ? this.#network.photo(this.#csrf ?? '', photo) : result;
  }

  /** The oldest entries of one round; from now on they may have reached the service. */
  async #nextBatch(): Promise<QueuedEntry[]> {
    const waiting = (await this.#store.all()).filter((kept) => kept.standing === 'waiting');
    const batch = waiting.filter((kept) => kept.roundId === waiting[0]?.roundId).slice(0, atOnce);
    const ids = new Set(batch.map((kept) => kept.id));
    await this.#store.mark((kept) => ids.has(kept.id), { tried: true });
    return batch;
  }

  async #send(batch: QueuedEntry[]): Promise<Result<EntryAnswer[]>> {
    const roundId = batch[0]?.roundId ?? this.#roundId;
    const entries = batch.map((kept) => kept.entry);
    const result = await this.#network.entries(roundId, this.#csrf ?? '', entries);
    if (!result.ok && result.trouble === 'no such round') {
      const why = 'The service knows no such round any more.';
      return { ok: true, value: entries.map(({ id }) => ({ id, outcome: 'refused', why })) };
    }
    if (result.ok || result.trouble !== 'old token') return result;
    return (await this.refresh()) ? this.#network.entries(roundId, this.#csrf ?? '', entries) : result;
  }

  async #settle(answers: readonly EntryAnswer[]): Promise<void> {
    for (const { id, outcome, why = '' } of answers) {
      const standing = outcome === 'refused' ? 'refused' : 'taken';
      await this.#store.mark((kept) => kept.id === id, { standing, why });
    }
  }

  #report(trouble: Trouble | null): void {
    const since = trouble === null ? null : (this.#sending.since ?? new Date());
    this.#sending = { trouble, since };
    if (trouble === null) this.#wait = this.#waits.first;
    this.#hooks.changed(this.#sending);
  }
}
