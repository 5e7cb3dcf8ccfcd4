// The round on a tablet: what is tapped is written down on the tablet first and sent when the network is there; the
// racks are drawn from the tablet's own copy, so that walking on needs no network either.
import { uuidv7 } from 'uuidv7';
import { isSpaceLow } from './round/free-space.ts';
import { entryWords } from './round/lot-marks.ts';
import { type EntryLog, LotSheet, plainClick } from './round/lot-sheet.ts';
import { network } from './round/network.ts';
import { followNumberPad } from './round/number-pad.ts';
import { followOff, OtherTablets } from './round/off-news.ts';
import { keepPageOffline, keepPhotosOffline } from './round/offline-page.ts';
import { listRefusedPhotos, shrink } from './round/photos.ts';
import { followPlates, setPlates } from './round/plates.ts';
import { followRackPhotographs, sayWaiting, takenOfRack } from './round/rack-photographs.ts';
import { confirmReading } from './round/reading-check.ts';
import { listRefusedEntries, type RefusedActions, typedWords } from './round/refused-list.ts';
import { Arrival, documentTitle, isTyping, showNews, showScreen } from './round/screen.ts';
import { markTappedSince, nextRack } from './round/screen-marks.ts';
import { Sender, type Sending } from './round/sender.ts';
import { type SendingWords, sendingWords } from './round/sending-words.ts';
import { lastTap, newestEntryByLot, racksLooked, takenBack } from './round/tapped-since.ts';
import { TestStage } from './round/test-stage.ts';
import { runTimers } from './round/timer.ts';
import { keepScreenOn } from './round/wake-lock.ts';
import { openStore } from './store/database-store.ts';
import {
  closeAgainAfter,
  closeOpen,
  heldHere,
  leaveOut,
  letGoOfSettled,
  replace,
  sendAgain,
  takeBack,
} from './store/queue.ts';
import { type RoundWanted, showing } from './store/round-copy.ts';
import type { Store } from './store/store.ts';
import type { QueuedEntry, QueuedPhoto, TabletEntry, TabletRound } from './store/types.ts';

/** How often a round is written down while its screens come, ms (own choice). */
const keptEvery = 4000;

class Tablet implements EntryLog {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #personId: string;
  readonly #sender: Sender;
  readonly #sheet: LotSheet;
  readonly #others: OtherTablets;
  readonly #arrival = new Arrival();
  readonly #stage = new TestStage((path) => void this.#go(path));
  #round: TabletRound | undefined;
  /** The mark of the program that runs here, as the service first said it. */
  #script: string | undefined;
  #sending: Sending = { trouble: null, since: null };
  /** What the tablet holds of this round, as the screen was last marked by it. */
  #kept: QueuedEntry[] = [];
  /** What was tapped last, to be taken back in one tap. */
  #last: { entryId: string; label: string; path: string } | null = null;
  /** When the round was last written down while it came. */
  #keptAt = 0;
  #full = false;
  #scarce = false;

  constructor(store: Store, roundId: string, personId: string) {
    this.#store = store;
    this.#roundId = roundId;
    this.#personId = personId;
    this.#sheet = new LotSheet(this);
    const hooks = {
      changed: (sending: Sending) => {
        this.#sending = sending;
        void this.#showSending();
      },
      wanted: () => this.#wanted(),
      coming: (round: TabletRound) => this.#keepComing(round),
      fetched: (round: TabletRound, settled: ReadonlySet<string>) => this.#useRound(round, settled),
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
    document.addEventListener('click', (event) => {
      if ((event.target as Element).closest('[data-undo-last]')) void this.#undoLast();
    });
    followRackPhotographs((rack, files) => this.photographRack(rack, files));
    addEventListener('online', () => this.#sender.sendNow());
    addEventListener('popstate', () => void this.#draw(location.pathname));
    document.addEventListener('visibilitychange', () => void this.#sheet.close());
    addEventListener('pagehide', () => void this.close());
    // Loaded without a network, the page may be that of another rack.
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && document.title !== documentTitle(page)) showScreen(page);
    this.#last = lastTap(this.#round, await this.#queuedHere());
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
    return this.#keepPhoto({ ...photo, standing: 'waiting', why: '' });
  }

  /** Keeps photographs of a rack, one after the other: each is made smaller first. */
  async photographRack(rack: { id: string; label: string }, files: readonly File[]): Promise<void> {
    for (const file of files) {
      const taken = await takenOfRack(file);
      const about = { id: uuidv7(), roundId: this.#roundId, lotId: '', rackId: rack.id, entryId: null };
      const photo = { ...about, ...taken, label: rack.label, notedBy: this.#personId };
      await this.#keepPhoto({ ...photo, standing: 'waiting', why: '' });
    }
  }

  async #keepPhoto(photo: QueuedPhoto): Promise<boolean> {
    try {
      await this.#store.addPhoto(photo);
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
    this.#last = { entryId: entry.id, label: entry.label, path: location.pathname };
    return this.#write(entry, 'open');
  }

  entryOf(lotId: string): { id: string; words: string } | null {
    const tapped = newestEntryByLot(this.#kept).get(lotId);
    if (tapped !== undefined) return { id: tapped.id, words: entryWords(tapped) };
    const item = document.querySelector<HTMLElement>(`li[data-lot="${lotId}"]`);
    const id = item?.dataset.entryId;
    if (item === null || id === undefined || takenBack(this.#kept).has(id)) return null;
    return { id, words: item.querySelector('.state')?.textContent?.trim() ?? '' };
  }

  async takeBack(entryId: string, label: string): Promise<void> {
    const told = { ...this.newEntry('take_back', label), entryId };
    try {
      await takeBack(this.#store, entryId, this.#roundId, told);
      this.#full = false;
    } catch {
      this.#full = true;
    }
    if (this.#last?.entryId === entryId) this.#last = null;
    if (!(await this.#draw(location.pathname))) await this.markScreen();
    this.#sender.sendNow();
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
    this.#kept = await this.#queuedHere();
    if (this.#round !== undefined) markTappedSince(this.#round, this.#kept);
    setPlates();
    this.#offerUndo();
    this.#stage.set();
    await this.#showSending();
  }

  /** The last tap, to be taken back from the foot of the rack that is shown. */
  #offerUndo(): void {
    const button = document.querySelector<HTMLElement>('[data-undo-last]');
    if (button === null) return;
    button.hidden = this.#last === null;
    button.textContent = `Undo: ${this.#last?.label.split(', ')[0] ?? ''}`;
  }

  async #undoLast(): Promise<void> {
    if (this.#last === null) return;
    const { entryId, label, path } = this.#last;
    if (path !== location.pathname) await this.#go(path);
    await this.takeBack(entryId, label);
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

  /** What is wanted of the round: the screen that is looked at, and those that show what was tapped here. */
  async #wanted(): Promise<RoundWanted> {
    const sent = (await this.#queuedHere()).filter(({ standing }) => standing !== 'refused');
    const { screens, allChanged } = showing(this.#roundId, sent);
    return { copy: this.#round, screens: [location.pathname, ...screens], allChanged };
  }

  /** A round of which not all screens are here yet. */
  async #keepComing(round: TabletRound): Promise<void> {
    this.#round = round;
    if (Date.now() - this.#keptAt < keptEvery) return;
    this.#keptAt = Date.now();
    await this.#store.keepRound(round).catch(() => undefined);
  }

  /** A round as the service has it now: what it took before is in it, what was put right since is settled. */
  async #useRound(round: TabletRound, settled: ReadonlySet<string>): Promise<void> {
    this.#round = round;
    this.#script ??= round.script;
    await letGoOfSettled(this.#store, round, settled);
    void keepPhotosOffline(round);
    await this.#store.keepRound(round).catch(() => undefined);
    if (!this.#sheet.busy) await this.#redraw();
  }

  async #redraw(): Promise<void> {
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && !isTyping()) showScreen(page, true);
    showNews(this.#round?.news);
    await this.markScreen();
  }

  async #draw(path: string): Promise<boolean> {
    const page = this.#round?.pages[path];
    if (page === undefined) return false;
    await this.#sheet.close();
    showScreen(page);
    showNews(this.#round?.news);
    await this.markScreen();
    return true;
  }

  async #go(path: string): Promise<void> {
    if (this.#round?.pages[path] === undefined || this.#isOutdated()) return location.assign(path);
    history.pushState(null, '', path);
    // Before it is drawn, so that a tap counts as soon as the style sheet lets one through.
    this.#arrival.note();
    await this.#draw(path);
    // Where something is sent, the round is fetched anyway.
    if (!this.#kept.some(({ standing }) => standing === 'waiting')) void this.#others.ask(true);
    scrollTo(0, 0);
    document.querySelector<HTMLElement>('main')?.focus({ preventScroll: true });
    this.#stage.set();
  }

  /** Whether the service was updated since this page was loaded, and is there to load it anew from. */
  #isOutdated(): boolean {
    const first = this.#script;
    return this.#sending.trouble === null && first !== undefined && first !== this.#round?.script;
  }

  async #followLink(event: MouseEvent): Promise<void> {
    const link = (event.target as Element).closest('a');
    if (link === null || event.defaultPrevented || !plainClick(event) || link.origin !== location.origin)
      return;
    const test = /^#test-(.+)$/.exec(link.hash)?.[1] ?? '';
    if (this.#round?.pages[link.pathname] === undefined || link.search !== '') return;
    if (link.hash !== '' && test === '') return;
    event.preventDefault();
    this.#stage.wanted = test;
    await this.#go(link.pathname);
  }

  async #submit(event: SubmitEvent): Promise<void> {
    const form = event.target as HTMLFormElement;
    if (form.dataset.entry === undefined) return;
    event.preventDefault();
    if (this.#arrival.isTooSoon(form)) return;
    // Until the next rack is drawn, a second tap finds the first one's work going on.
    if (form.querySelector('[data-well]') !== null) this.#arrival.note();
    const isAgain = (event.submitter as HTMLButtonElement | null)?.name === 'again';
    if (!confirmReading(form) || !this.#stage.allows(form, isAgain)) return;
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
    await this.#sheet.close();
    if (kind === 'take_back') return this.takeBack(fields.entryId ?? '', label);
    const entry = { ...this.newEntry(kind, label), ...fields };
    if (!(await this.#queue(entry))) return;
    if (kind === 'rack_well' || kind === 'shelf_count')
      this.#last = { entryId: entry.id, label, path: location.pathname };
    form.reset();
    this.#stage.next(form, again !== '');
    if (kind === 'rack_well') await this.#go(await this.#nextPath(next));
    else if (kind === 'shelf_count' && next !== undefined) await this.#go(next);
    else if (!(await this.#draw(location.pathname))) await this.markScreen();
    this.#sender.sendNow();
  }

  async #nextPath(otherwise = `/rounds/${this.#roundId}`): Promise<string> {
    if (this.#round === undefined) return otherwise;
    const here = this.#round.racks.find(({ path }) => path === location.pathname);
    if (here?.water) return here.water;
    const looked = racksLooked(this.#round, await this.#queuedHere());
    return nextRack(this.#round, location.pathname, looked) ?? `/rounds/${this.#roundId}/end`;
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
    sayWaiting(photos);
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
  followPlates();
  keepScreenOn();
  const { round = '', person = '' } = head.dataset;
  const tablet = new Tablet(await openStore(), round, person);
  await tablet.start();
  await keepPageOffline();
}
