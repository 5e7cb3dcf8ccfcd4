// The round on a tablet: what is tapped is written down on the tablet first and sent when the network is there; the
// racks are drawn from the tablet's own copy, so that walking on needs no network either.
import { uuidv7 } from 'uuidv7';
import { openStore } from './round/database-store.ts';
import { isSpaceLow } from './round/free-space.ts';
import { type EntryLog, LotRowEditor, plainClick } from './round/lot-row-editor.ts';
import { network } from './round/network.ts';
import { followNumberPad } from './round/number-pad.ts';
import { followOff, OtherTablets } from './round/off-news.ts';
import { keepPageOffline } from './round/offline-page.ts';
import { listRefusedPhotos, shrink } from './round/photos.ts';
import {
  closeAgainAfter,
  closeOpen,
  heldHere,
  leaveOut,
  letGoOfSettled,
  replace,
  sendAgain,
} from './round/queue.ts';
import { confirmReading } from './round/reading-check.ts';
import { listRefusedEntries, type RefusedActions, typedWords } from './round/refused-list.ts';
import { documentTitle, isTyping, showScreen } from './round/screen.ts';
import { markTappedSince, nextRack } from './round/screen-marks.ts';
import { Sender, type Sending } from './round/sender.ts';
import { type SendingWords, sendingWords } from './round/sending-words.ts';
import type { Store } from './round/store.ts';
import { racksLooked } from './round/tapped-since.ts';
import { TestStage } from './round/test-stage.ts';
import { runTimers } from './round/timer.ts';
import type { QueuedEntry, TabletEntry, TabletRound } from './round/types.ts';
import { keepScreenOn } from './round/wake-lock.ts';

class Tablet implements EntryLog {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #personId: string;
  readonly #sender: Sender;
  readonly #lotRow: LotRowEditor;
  readonly #others: OtherTablets;
  readonly #stage = new TestStage((path) => void this.#go(path));
  #round: TabletRound | undefined;
  #sending: Sending = { trouble: null, since: null };
  #full = false;
  #scarce = false;

  constructor(store: Store, roundId: string, personId: string) {
    this.#store = store;
    this.#roundId = roundId;
    this.#personId = personId;
    this.#lotRow = new LotRowEditor(this);
    const hooks = {
      changed: (sending: Sending) => {
        this.#sending = sending;
        void this.#showSending();
      },
      fetched: (round: TabletRound) => this.#useRound(round),
    };
    this.#sender = new Sender(store, roundId, hooks, network);
    this.#others = new OtherTablets(
      roundId,
      () => this.#round?.latest,
      () => this.#sender.refetch(),
    );
  }

  async start(): Promise<void> {
    this.#round = await this.#store.round(this.#roundId);
    await this.close();
    document.addEventListener('click', (event) => void this.#followLink(event));
    document.addEventListener('submit', (event) => void this.#submit(event));
    addEventListener('online', () => this.#sender.sendNow());
    addEventListener('popstate', () => void this.#draw(location.pathname));
    document.addEventListener('visibilitychange', () => void this.#lotRow.close());
    addEventListener('pagehide', () => void this.close());
    // Loaded without a network, the page may be that of another rack.
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && document.title !== documentTitle(page)) showScreen(page);
    await this.markScreen();
    await this.#sender.refresh();
    this.#sender.sendNow();
    this.#scarce = await isSpaceLow();
    followOff(
      () => this.#round?.off ?? [],
      () => this.#sender.refetch(),
    );
  }

  async photo(lotId: string, entryId: string | null, label: string, file: Blob): Promise<boolean> {
    const image = await shrink(file);
    const takenAt = new Date().toISOString();
    const photo = {
      id: uuidv7(),
      roundId: this.#roundId,
      lotId,
      entryId,
      label,
      takenAt,
      notedBy: this.#personId,
      image,
    };
    try {
      await this.#store.addPhoto({ ...photo, standing: 'waiting', why: '' });
      this.#full = false;
    } catch {
      this.#full = true;
    }
    this.#scarce = await isSpaceLow();
    await this.#showSending();
    this.#sender.sendNow();
    return !this.#full;
  }

  newEntry(kind: string, label: string): TabletEntry {
    return { id: uuidv7(), kind, at: new Date().toISOString(), label, notedBy: this.#personId };
  }

  open(entry: TabletEntry): Promise<void> {
    return this.#write(entry, 'open');
  }

  async amend(entry: TabletEntry): Promise<boolean> {
    return this.#store.amend(entry.id, entry);
  }

  async close(): Promise<void> {
    if (!(await closeOpen(this.#store))) {
      this.#full = true;
      setTimeout(() => void this.close(), closeAgainAfter);
    }
    await this.markScreen();
    this.#sender.sendNow();
  }

  async markScreen(): Promise<void> {
    if (this.#round !== undefined) markTappedSince(this.#round, await this.#queuedHere());
    this.#stage.set();
    await this.#showSending();
  }

  async #write(entry: TabletEntry, standing: 'open' | 'waiting'): Promise<void> {
    try {
      await this.#store.add(this.#roundId, entry, standing);
      this.#full = false;
    } catch {
      this.#full = true;
      await this.#showSending();
      throw new Error('the tablet is full');
    }
  }

  /** False where the tablet is full: the form then stays as it is. */
  #queue(entry: TabletEntry): Promise<boolean> {
    return this.#write(entry, 'waiting').then(
      () => true,
      () => false,
    );
  }

  async #queuedHere(): Promise<QueuedEntry[]> {
    return (await this.#store.all()).filter((kept) => kept.roundId === this.#roundId);
  }

  /** A round as the service has it now: what it took before is in it, what was put right since is settled. */
  async #useRound(round: TabletRound): Promise<void> {
    this.#round = round;
    await letGoOfSettled(this.#store, round);
    await this.#store.keepRound(round).catch(() => undefined);
    if (!this.#lotRow.busy) await this.#redraw();
  }

  async #redraw(): Promise<void> {
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && !isTyping())
      showScreen(page, document.querySelector('main > .notice:first-child'));
    await this.markScreen();
  }

  async #draw(path: string): Promise<boolean> {
    const page = this.#round?.pages[path];
    if (page === undefined) return false;
    await this.#lotRow.close();
    showScreen(page);
    await this.markScreen();
    return true;
  }

  async #go(path: string): Promise<void> {
    if (this.#round?.pages[path] === undefined) return location.assign(path);
    history.pushState(null, '', path);
    await this.#draw(path);
    void this.#others.ask();
    scrollTo(0, 0);
    document.querySelector<HTMLElement>('main')?.focus({ preventScroll: true });
    this.#stage.set();
  }

  async #followLink(event: MouseEvent): Promise<void> {
    const link = (event.target as Element).closest('a');
    if (link === null || event.defaultPrevented || !plainClick(event) || link.origin !== location.origin)
      return;
    if (this.#round?.pages[link.pathname] === undefined || link.search !== '' || link.hash !== '') return;
    event.preventDefault();
    await this.#go(link.pathname);
  }

  async #submit(event: SubmitEvent): Promise<void> {
    const form = event.target as HTMLFormElement;
    if (form.dataset.entry === undefined) return;
    event.preventDefault();
    if (!confirmReading(form) || !this.#stage.allows(form)) return;
    const {
      kind = '',
      label = '',
      next,
      id: _id,
      _csrf,
      _key,
      again = '',
      ...fields
    } = Object.fromEntries(
      [...new FormData(form, event.submitter)].map(([name, value]) => [name, String(value)]),
    );
    await this.#lotRow.close();
    if (!(await this.#queue({ ...this.newEntry(kind, label), ...fields }))) return;
    form.reset();
    this.#stage.next(form, again !== '');
    if (kind === 'rack_well') await this.#go(await this.#nextPath(next));
    else if (!(await this.#draw(location.pathname))) await this.markScreen();
    this.#sender.sendNow();
  }

  async #nextPath(otherwise = `/rounds/${this.#roundId}`): Promise<string> {
    if (this.#round === undefined) return otherwise;
    const here = this.#round.racks.find(({ path }) => path === location.pathname);
    if (here?.water) return here.water;
    const looked = racksLooked(this.#round, await this.#queuedHere());
    return nextRack(this.#round, location.pathname, looked) ?? `/rounds/${this.#roundId}`;
  }

  /** What a person does about an entry that only this tablet holds. */
  #refusedActions(): RefusedActions {
    const then = async (done: Promise<void>) => {
      await done.catch(() => {
        this.#full = true;
      });
      await this.markScreen();
      this.#sender.sendNow();
    };
    const put = ({ id, roundId }: QueuedEntry, by: TabletEntry) =>
      then(replace(this.#store, id, roundId, by));
    return {
      sendAgain: (kept) => then(sendAgain(this.#store, kept.id)),
      // It keeps the time of the tap: what was seen was seen then.
      change: (kept, fields) => put(kept, { ...kept.entry, ...fields, id: uuidv7(), mends: kept.id }),
      leaveOut: (kept, why) => then(this.#leaveOut(kept, why)),
    };
  }

  /** The service is told what was left out, with the present round: that of the entry may be gone. */
  #leaveOut(kept: QueuedEntry, why: string): Promise<void> {
    const told = { ...this.newEntry('discarded', kept.entry.label), what: typedWords(kept.entry), why };
    return leaveOut(this.#store, kept, this.#roundId, told);
  }

  async #showSending(): Promise<void> {
    const place = document.querySelector('[data-sent]');
    if (place === null) return;
    const { lasting } = this.#store;
    const photos = await this.#store.photos();
    const [full, scarce, roundPath] = [this.#full, this.#scarce, `/rounds/${this.#roundId}`];
    const state = { lasting, full, scarce, roundPath, photos };
    const all = await this.#store.all();
    fill(place, sendingWords(all, this.#sending, state));
    listRefusedEntries(heldHere(all), this.#refusedActions());
    listRefusedPhotos(photos, async (id) => {
      await this.#store.removePhoto(id);
      await this.#showSending();
    });
  }
}

/** Says it, where it is not said already: what is read out is not read out again. */
function fill(place: Element, { strong, rest, link }: SendingWords): void {
  const parts: (Node | string)[] = [];
  if (strong !== '')
    parts.push(Object.assign(document.createElement('strong'), { textContent: strong }), ' ');
  if (rest !== '') parts.push(rest, ' ');
  if (link !== null)
    parts.push(Object.assign(document.createElement('a'), { href: link.href, textContent: link.text }));
  const said = parts.map((part) => (typeof part === 'string' ? part : part.textContent)).join('');
  if (place.textContent?.trim() !== said.trim()) place.replaceChildren(...parts);
}

const head = document.querySelector<HTMLElement>('[data-round]');
if (head !== null) {
  runTimers(head.dataset.now);
  followNumberPad();
  keepScreenOn();
  const { round = '', person = '' } = head.dataset;
  const tablet = new Tablet(await openStore(), round, person);
  await tablet.start();
  await keepPageOffline();
}
