import { minuteMs } from '../../science/numeric/time.ts';
import type { RoundWanted } from '../store/round-copy.ts';
import type { Store } from '../store/store.ts';
import type { QueuedEntry, QueuedPhoto, TabletRound } from '../store/types.ts';
import { countFailures, mostFailures, sendEntries } from './entry-batches.ts';
import type { EntryAnswer, Network, Result, Trouble } from './network.ts';

/** How sending goes. */
export interface Sending {
  /** Since when nothing goes through, and why; null while all is well. */
  trouble: Trouble | null;
  since: Date | null;
}

interface Hooks {
  /** What is wanted of the round when it is fetched: its copy here, the screens that must be as they stand. */
  wanted?(): Promise<RoundWanted>;
  /** The copy while its screens come. */
  coming?(round: TabletRound): Promise<void>;
  /** Something changed: entries were taken or refused, trouble came or went. */
  changed(sending: Sending): void;
  /** A round as it stands now; `settled` were taken or refused before it was asked for, so that it shows them. */
  fetched(round: TabletRound, settled: ReadonlySet<string>): Promise<void>;
}

/** How long to wait before the next try, ms: at first, and at most. */
const usualWaits = { first: 2000, longest: minuteMs };

const nothingKept: RoundWanted = { copy: undefined, screens: [], allChanged: true };

/** Sends what waits, in order of tapping, until the service has it; waits longer each time that nothing goes through. */
export class Sender {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #hooks: Hooks;
  readonly #network: Network;
  readonly #waits: { first: number; longest: number };
  #csrf: string | null = null;
  #fetching: Promise<unknown> = Promise.resolve();
  #sending: Sending = { trouble: null, since: null };
  #wait: number;
  #stopped = false;
  #stale = false;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #running = false;
  #drawing = false;
  #drawAgain = false;
  #again = false;
  /** Asks again after photographs that are being read. */
  #reading: ReturnType<typeof setTimeout> | undefined;

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
    clearTimeout(this.#reading);
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

  /** Fetches the round anew, after whatever is being fetched, and, with it, the token that sending needs. */
  refresh(): Promise<boolean> {
    const before = this.#fetching;
    this.#fetching = before.catch(() => undefined).then(() => this.#fetch());
    return this.#fetching as Promise<boolean>;
  }

  async #fetch(): Promise<boolean> {
    const wanted = (await this.#hooks.wanted?.()) ?? nothingKept;
    const all = await this.#store.all();
    const settled = new Set(
      all.filter(({ standing }) => standing === 'taken' || standing === 'refused').map(({ id }) => id),
    );
    const round = await this.#network.round(this.#roundId, wanted, async (copy) => {
      this.#csrf = copy.csrf;
      await this.#hooks.coming?.(copy);
    });
    if (!round.ok) {
      this.#report(round.trouble);
      return false;
    }
    this.#csrf = round.value.csrf;
    this.#report(null);
    await this.#hooks.fetched(round.value, settled);
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
    } catch {
      // The tablet's store failed: what waits is sent at the next try.
      this.#report('away');
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
    const sent = await sendEntries(this.#store, (batch) => this.#post(batch));
    if (sent.trouble !== null) return this.#report(sent.trouble);
    if (sent.settled > 0) this.#report(null);
    const photos = await this.#sendPhotos();
    if (photos.trouble !== null) return this.#report(photos.trouble);
    const failed = sent.failed.length + photos.failed.length;
    const goneThrough = sent.settled + photos.settled;
    const isNews = goneThrough > 0 || this.#stale || this.#sending.trouble !== null;
    this.#stale = false;
    // What is tapped next does not wait until the round is drawn.
    if (failed === 0) {
      if (isNews) void this.#redraw();
    } else if (await this.refresh()) {
      // The service is well otherwise, so these are at fault themselves.
      await countFailures(this.#store, sent.failed);
      await this.#countPhotoFailures(photos.failed);
      this.#report('failed');
      const tries = 1 + Math.max(...[...sent.failed, ...photos.failed].map((one) => one.failures ?? 0));
      this.#wait = Math.min(this.#waits.first * 4 ** tries, this.#waits.longest);
    }
  }

  /** Fetches the round anew; once more where that was asked for meanwhile. */
  async #redraw(): Promise<void> {
    this.#drawAgain = true;
    if (this.#drawing) return;
    this.#drawing = true;
    let isWell = true;
    try {
      while (this.#drawAgain && isWell && !this.#stopped) {
        this.#drawAgain = false;
        isWell = await this.refresh();
      }
    } catch {
      // The tablet's store failed.
      this.#report('away');
      isWell = false;
    } finally {
      this.#drawing = false;
    }
    if (!isWell && !this.#stopped) this.#later();
  }

  /** Photos whose entries are with the service, one at a time. */
  async #sendPhotos(): Promise<{ settled: number; failed: QueuedPhoto[]; trouble: Trouble | null }> {
    const sent = { settled: 0, failed: [] as QueuedPhoto[], trouble: null };
    for (const photo of await this.#photosToSend()) {
      const result = await this.#withToken((csrf) => this.#network.photo(csrf, photo));
      if (result.ok && result.value.outcome === 'being read') {
        // The next would wait behind it; what was tapped meanwhile does not.
        clearTimeout(this.#reading);
        this.#reading = setTimeout(() => void this.#run(), this.#waits.first);
        return sent;
      }
      if (result.ok) await this.#store.removePhoto(photo.id);
      else if (result.trouble === 'refused' || result.trouble === 'no such round')
        await this.#store.markPhoto(photo.id, {
          standing: 'refused',
          why: result.why ?? 'The service does not take it.',
        });
      else if (result.trouble === 'away' || result.trouble === 'signed out')
        return { ...sent, trouble: result.trouble };
      else sent.failed.push(photo);
      // One that is not taken is news as well: its screen says why.
      if (result.ok || photo.rackId !== undefined) sent.settled += 1;
      this.#report(null);
    }
    return sent;
  }

  async #countPhotoFailures(failed: readonly QueuedPhoto[]): Promise<void> {
    for (const { id, failures = 0 } of failed)
      await this.#store.markPhoto(
        id,
        failures + 1 < mostFailures
          ? { failures: failures + 1 }
          : { standing: 'refused', why: `The service failed at it ${mostFailures} times.` },
      );
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

  #post(batch: readonly QueuedEntry[]): Promise<Result<EntryAnswer[]>> {
    const roundId = batch[0]?.roundId ?? this.#roundId;
    const entries = batch.map((kept) => kept.entry);
    return this.#withToken((csrf) => this.#network.entries(roundId, csrf, entries));
  }

  /** Asks with the token, and once more with a new one where it was of an older sign-in. */
  async #withToken<T>(ask: (csrf: string) => Promise<Result<T>>): Promise<Result<T>> {
    const result = await ask(this.#csrf ?? '');
    if (result.ok || result.trouble !== 'old token') return result;
    if (!(await this.refresh())) return { ok: false, trouble: this.#sending.trouble ?? 'away' };
    return ask(this.#csrf ?? '');
  }

  #report(trouble: Trouble | null): void {
    const since = trouble === null ? null : (this.#sending.since ?? new Date());
    this.#sending = { trouble, since };
    if (trouble === null) this.#wait = this.#waits.first;
    this.#hooks.changed(this.#sending);
  }
}
