import type { Network } from '../../../src/browser/round/network.ts';
import { Sender, type Sending } from '../../../src/browser/round/sender.ts';
import {
  closeAgainAfter,
  closeOpen,
  heldHere,
  leaveOut,
  letGoOfSettled,
  replace,
  sendAgain,
  takeBack,
} from '../../../src/browser/store/queue.ts';
import type { Store } from '../../../src/browser/store/store.ts';
import type { QueuedEntry, TabletEntry } from '../../../src/browser/store/types.ts';
import { type DiskFaults, newDisk, storeOfPage } from './disk.ts';
import { poison } from './ledger.ts';
import type { Asker } from './line.ts';

/** What a hand was told is kept, and what became of it by that hand's own word. */
export interface Tapped {
  entry: TabletEntry;
  /** The page died or the tablet was full before it was said to be kept: it may be there or not. */
  isUnsure: boolean;
  /** Set aside at some time, so that it may come after those behind it. */
  wasAside: boolean;
  /** When it really was. */
  trueAt: number;
  /** Entries that a hand put in its place: one, or more where nobody was told whether the first was kept. */
  replacedBy: string[];
  /** A hand took it back; not sure where nobody was told whether that is kept. */
  takenBack?: 'sure' | 'unsure';
  /** A hand gave it up, and the service takes not even that. */
  isLetGo?: true;
}

/** Mistakes that a tablet could have; each is planted in turn to see that it is found. */
export interface TabletMistakes {
  /** Says that a tap is kept before it is written. */
  forgetsToPersist?: boolean;
  /** Sends the newest first. */
  sendsNewestFirst?: boolean;
  /** Takes every answer that did not come for a good one. */
  takesSilenceForYes?: boolean;
  /** Lets go of every refused entry, whoever holds it. */
  dropsRefused?: boolean;
}

/** Everything around one tablet. */
export interface TabletWorld {
  wait(ms: number): Promise<void>;
  newId(): string;
  disk: DiskFaults;
  network(asker: Asker): Network;
  signIn(): string;
  now(): number;
  mistakes: TabletMistakes;
}

const ask = 'round';
const yes = () => true;
const no = () => false;
const never = new Promise<never>(() => undefined);

/**
 * A tablet without a screen. Store, queue and sender are the browser's own; the hand taps, amends, reloads, signs in and
 * settles what was set aside.
 */
export class SimulatedTablet {
  readonly tapped = new Map<string, Tapped>();
  /** In the order in which they were said to be kept. */
  readonly order: string[] = [];
  readonly disk = newDisk();
  clockAhead = 0;
  session: string | null;
  readonly #world: TabletWorld;
  #page = 0;
  #store!: Store;
  #sender!: Sender;
  #trouble: Sending['trouble'] = null;

  constructor(world: TabletWorld) {
    this.#world = world;
    this.session = world.signIn();
    this.reload();
  }

  /** The page goes, whatever it was doing, and comes back with what the tablet kept. */
  reload(): void {
    this.#sender?.stop();
    this.#page += 1;
    const page = this.#page;
    const { mistakes } = this.#world;
    const isGone = () => page !== this.#page;
    const store = storeOfPage(this.disk, this.#world.disk, isGone);
    this.#store = mistakes.sendsNewestFirst
      ? { ...store, all: async () => (await store.all()).reverse() }
      : store;
    const asker = { session: () => this.session, deviceNow: () => this.#deviceNow(), isGone };
    const hooks = {
      changed: ({ trouble }: Sending) => {
        if (!isGone()) this.#trouble = trouble;
      },
      fetched: async (round: Parameters<typeof letGoOfSettled>[1], settled: ReadonlySet<string>) => {
        await this.#noteAside();
        if (mistakes.dropsRefused) await this.#store.remove(({ standing }) => standing === 'refused');
        await letGoOfSettled(this.#store, round, settled);
      },
    };
    this.#sender = new Sender(this.#store, ask, hooks, this.#networkOf(asker));
    void this.#closeOpen();
    this.#sender.sendNow();
  }

  #networkOf(asker: Asker): Network {
    const network = this.#world.network(asker);
    if (!this.#world.mistakes.takesSilenceForYes) return network;
    return {
      ...network,
      entries: async (roundId, csrf, entries) => {
        const sent = await network.entries(roundId, csrf, entries);
        if (sent.ok || sent.trouble !== 'away') return sent;
        return { ok: true, value: entries.map(({ id }) => ({ id, outcome: 'taken' as const })) };
      },
    };
  }

  #deviceNow(): Date {
    return new Date(this.#world.now() + this.clockAhead);
  }

  async #closeOpen(): Promise<void> {
    const page = this.#page;
    if (await closeOpen(this.#store)) return this.#sender.sendNow();
    await this.#world.wait(closeAgainAfter);
    if (page === this.#page) await this.#closeOpen();
  }

  newEntry(fields: Record<string, string>): TabletEntry {
    const at = this.#deviceNow().toISOString();
    return {
      id: this.#world.newId(),
      kind: 'chore',
      at,
      label: '',
      notedBy: '',
      key: 'own:swept',
      ...fields,
    };
  }

  /** A tap that is said to be kept, or said not to be. */
  async tap(fields: Record<string, string>): Promise<void> {
    const entry = this.newEntry(fields);
    await this.#write(entry, 'waiting');
    this.#sender.sendNow();
  }

  async #write(entry: TabletEntry, standing: 'open' | 'waiting'): Promise<boolean> {
    const tapped: Tapped = {
      entry,
      isUnsure: true,
      wasAside: [poison.breaks, poison.unreadable].includes(entry.note ?? ''),
      replacedBy: [],
      trueAt: this.#world.now(),
    };
    this.tapped.set(entry.id, tapped);
    const writing = this.#store.add(ask, entry, standing);
    if (!this.#world.mistakes.forgetsToPersist) {
      const kept = await this.#unlessGone(writing.then(() => true).catch(() => false));
      if (!kept) return false;
    } else void writing.catch(() => undefined);
    tapped.isUnsure = false;
    this.order.push(entry.id);
    return true;
  }

  /** False where the page goes before the answer comes. */
  #unlessGone(answer: Promise<boolean>): Promise<boolean> {
    const page = this.#page;
    const gone = async (): Promise<boolean> => {
      for (;;) {
        await this.#world.wait(50);
        if (page !== this.#page) return false;
        if (isOver) return never;
      }
    };
    let isOver = false;
    const watched = answer.finally(() => {
      isOver = true;
    });
    return Promise.race([watched, gone()]);
  }

  /** The last tap was a mistake: it is taken back in place. */
  async takeBackLast(): Promise<void> {
    const id = this.order.at(-1) ?? '';
    const tapped = this.tapped.get(id);
    const isPoison = (Object.values(poison) as string[]).includes(tapped?.entry.note ?? '');
    if (tapped === undefined || isPoison || tapped.takenBack !== undefined || tapped.wasAside) return;
    const told = this.newEntry({ kind: 'take_back', entryId: id });
    const { trueAt: _, ...unsure } = { ...tapped, entry: told, isUnsure: true };
    this.tapped.set(told.id, { ...unsure, replacedBy: [], trueAt: this.#world.now() });
    tapped.takenBack = 'unsure';
    if (await this.#unlessGone(takeBack(this.#store, id, ask, told).then(yes, no))) tapped.takenBack = 'sure';
    this.#sender.sendNow();
  }

  /** Something of a lot, amended while its row is open. */
  async noteLot(words: readonly string[]): Promise<void> {
    const entry = this.newEntry({ note: words[0] ?? '' });
    if (!(await this.#write(entry, 'open'))) return;
    for (const note of words.slice(1)) {
      await this.#world.wait(200);
      const tapped = this.tapped.get(entry.id);
      if (tapped === undefined) return;
      const changed = { ...tapped.entry, note };
      const before = tapped.entry;
      // Whichever of the two is there counts until the tablet says that it is changed.
      const amended = await this.#unlessGone(this.#store.amend(entry.id, changed).catch(() => false));
      if (amended) tapped.entry = changed;
      else this.#either.set(entry.id, [before, changed]);
    }
    void this.#closeOpen();
  }

  /** Entries of which two versions may be there: nobody was told which. */
  readonly #either = new Map<string, TabletEntry[]>();

  versionsOf({ entry }: Tapped): TabletEntry[] {
    return [entry, ...(this.#either.get(entry.id) ?? [])];
  }

  async #noteAside(): Promise<void> {
    for (const { id, failures = 0, standing } of await this.disk.all())
      if (failures > 0 || standing === 'refused') {
        const tapped = this.tapped.get(id);
        if (tapped !== undefined) tapped.wasAside = true;
      }
  }

  /** What a hand does who looks at the tablet now and then: signs in where asked, settles what was set aside. */
  async lookAfter(chance: () => number): Promise<void> {
    if (this.#trouble === 'signed out') {
      this.session = this.#world.signIn();
      this.#sender.sendNow();
    }
    await this.#noteAside();
    for (const kept of heldHere(await this.disk.all())) await this.#settle(kept, chance());
    this.#sender.sendNow();
  }

  async #settle(kept: QueuedEntry, choice: number): Promise<void> {
    if (choice < 0.3) {
      await this.#unlessGone(sendAgain(this.#store, kept.id).then(yes, no));
      return;
    }
    const isChanged = choice < 0.7;
    const by = isChanged
      ? { ...kept.entry, id: this.#world.newId(), note: 'put right', mends: kept.id }
      : this.newEntry({ kind: 'discarded', what: kept.entry.note ?? 'it', why: 'noted twice' });
    const replaced = this.tapped.get(kept.id);
    if (isChanged || kept.entry.kind !== 'discarded')
      this.tapped.set(by.id, {
        entry: by,
        isUnsure: true,
        wasAside: true,
        replacedBy: [],
        trueAt: Number.NaN,
      });
    else if (replaced !== undefined) replaced.isLetGo = true;
    const replacing = isChanged
      ? replace(this.#store, kept.id, ask, by)
      : leaveOut(this.#store, kept, ask, by);
    if (replaced !== undefined && this.tapped.has(by.id)) replaced.replacedBy.push(by.id);
    await this.#unlessGone(replacing.then(yes, no));
  }

  /** Whether nothing waits any more. */
  async isSettled(): Promise<boolean> {
    const left = await this.disk.all();
    return left.every(
      ({ standing, onlyHere = false }) => standing === 'taken' || (standing === 'refused' && !onlyHere),
    );
  }

  stop(): void {
    this.#sender.stop();
    this.#page += 1;
  }
}
