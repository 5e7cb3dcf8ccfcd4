// The round on a tablet: what is tapped is written down on the tablet first and sent when the network is there; the
// racks are drawn from the tablet's own copy, so that walking on needs no network either.
import { uuidv7 } from 'uuidv7';
import { mayNote } from './round/asking.ts';
import { keepAwake } from './round/awake.ts';
import { markTapped, nextRack } from './round/drawing.ts';
import { network } from './round/network.ts';
import { type Notebook, Noting, plainClick } from './round/noting.ts';
import { offerPad } from './round/pad.ts';
import { put, titleOf, typing } from './round/page.ts';
import { sayRefusedPhotos } from './round/photos.ts';
import { followPumps } from './round/pumps-news.ts';
import { allowReload } from './round/reload.ts';
import { isScarce } from './round/room.ts';
import { Sender, type Sending } from './round/sender.ts';
import { shrink } from './round/shrink.ts';
import { racksLooked } from './round/standing.ts';
import { openStore, type Store } from './round/store.ts';
import { runTimers } from './round/timer.ts';
import type { Entry, Kept, Round } from './round/types.ts';
import { type SentWords, sentWords } from './round/words.ts';

class Tablet implements Notebook {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #personId: string;
  readonly #sender: Sender;
  readonly #noting: Noting;
  #round: Round | undefined;
  #sending: Sending = { trouble: null, since: null };
  #full = false;
  #scarce = false;

  constructor(store: Store, roundId: string, personId: string) {
    this.#store = store;
    this.#roundId = roundId;
    this.#personId = personId;
    this.#noting = new Noting(this);
    const hooks = {
      changed: (sending: Sending) => {
        this.#sending = sending;
        void this.#say();
      },
      fetched: (round: Round) => this.#take(round),
    };
    this.#sender = new Sender(store, roundId, hooks, network);
  }

  async start(): Promise<void> {
    this.#round = await this.#store.round(this.#roundId);
    await this.close();
    document.addEventListener('click', (event) => void this.#follow(event));
    document.addEventListener('submit', (event) => void this.#submit(event));
    addEventListener('online', () => this.#sender.kick());
    addEventListener('popstate', () => void this.#draw(location.pathname));
    document.addEventListener('visibilitychange', () => void this.#noting.close());
    addEventListener('pagehide', () => void this.close());
    // Loaded without a network, the page may be that of another rack.
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && document.title !== titleOf(page)) put(page);
    await this.drawn();
    await this.#sender.refresh();
    this.#sender.kick();
    this.#scarce = await isScarce();
    followPumps(
      () => this.#round?.pumps ?? [],
      () => this.#sender.renew(),
    );
  }

  async photo(lotId: string, entryId: string | null, label: string, file: Blob): Promise<boolean> {
    const image = await shrink(file);
    const takenAt = new Date().toISOString();
    const photo = { id: uuidv7(), roundId: this.#roundId, lotId, entryId, label, takenAt, image };
    try {
      await this.#store.addPhoto({ ...photo, standing: 'waiting', why: '' });
      this.#full = false;
    } catch {
      this.#full = true;
    }
    this.#scarce = await isScarce();
    await this.#say();
    this.#sender.kick();
    return !this.#full;
  }

  fresh(kind: string, label: string): Entry {
    return { id: uuidv7(), kind, at: new Date().toISOString(), label, notedBy: this.#personId };
  }

  open(entry: Entry): Promise<void> {
    return this.#write(entry, 'open');
  }

  async amend(entry: Entry): Promise<boolean> {
    return this.#store.amend(entry.id, entry);
  }

  async close(): Promise<void> {
    await this.#store.mark((kept) => kept.standing === 'open', { standing: 'waiting' });
    await this.drawn();
    this.#sender.kick();
  }

  async drawn(): Promise<void> {
    if (this.#round !== undefined) markTapped(this.#round, await this.#ours());
    await this.#say();
  }

  async #write(entry: Entry, standing: 'open' | 'waiting'): Promise<void> {
    try {
      await this.#store.add(this.#roundId, entry, standing);
      this.#full = false;
    } catch {
      this.#full = true;
      await this.#say();
      throw new Error('the tablet is full');
    }
  }

  /** False where the tablet is full: the form then stays as it is. */
  #written(entry: Entry): Promise<boolean> {
    return this.#write(entry, 'waiting').then(
      () => true,
      () => false,
    );
  }

  async #ours(): Promise<Kept[]> {
    return (await this.#store.all()).filter((kept) => kept.roundId === this.#roundId);
  }

  /** A round as the service has it now: what it took before is in it, what was put right since is settled. */
  async #take(round: Round): Promise<void> {
    this.#round = round;
    await this.#store.remove(
      ({ roundId, standing, id }) =>
        roundId === round.id &&
        (standing === 'taken' || (standing === 'refused' && !round.refused.includes(id))),
    );
    await this.#store.keepRound(round).catch(() => undefined);
    if (!this.#noting.busy) await this.#redraw();
  }

  async #redraw(): Promise<void> {
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && !typing()) put(page, document.querySelector('main > .notice:first-child'));
    await this.drawn();
  }

  async #draw(path: string): Promise<boolean> {
    const page = this.#round?.pages[path];
    if (page === undefined) return false;
    await this.#noting.close();
    put(page);
    await this.drawn();
    return true;
  }

  async #go(path: string): Promise<void> {
    if (this.#round?.pages[path] === undefined) return location.assign(path);
    history.pushState(null, '', path);
    await this.#draw(path);
    scrollTo(0, 0);
    document.querySelector<HTMLElement>('main')?.focus({ preventScroll: true });
  }

  async #follow(event: MouseEvent): Promise<void> {
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
    if (!mayNote(form)) return;
    const {
      kind = '',
      label = '',
      next,
      id: _id,
      _csrf,
      _key,
      ...fields
    } = Object.fromEntries(
      [...new FormData(form, event.submitter)].map(([name, value]) => [name, String(value)]),
    );
    await this.#noting.close();
    if (!(await this.#written({ ...this.fresh(kind, label), ...fields }))) return;
    form.reset();
    if (kind === 'rack_well') await this.#go(await this.#nextPath(next));
    else await this.#draw(location.pathname);
    this.#sender.kick();
  }

  async #nextPath(otherwise = `/rounds/${this.#roundId}`): Promise<string> {
    if (this.#round === undefined) return otherwise;
    const looked = racksLooked(this.#round, await this.#ours());
    return nextRack(this.#round, location.pathname, looked) ?? `/rounds/${this.#roundId}`;
  }

  async #say(): Promise<void> {
    const place = document.querySelector('[data-sent]');
    if (place === null) return;
    const { lasting } = this.#store;
    const photos = await this.#store.photos();
    const [full, scarce, roundPath] = [this.#full, this.#scarce, `/rounds/${this.#roundId}`];
    const state = { lasting, full, scarce, roundPath, photos };
    fill(place, sentWords(await this.#store.all(), this.#sending, state));
    sayRefusedPhotos(photos, async (id) => {
      await this.#store.removePhoto(id);
      await this.#say();
    });
  }
}

/** Says it, where it is not said already: what is read out is not read out again. */
function fill(place: Element, { strong, rest, link }: SentWords): void {
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
  offerPad();
  keepAwake();
  const { round = '', person = '' } = head.dataset;
  const tablet = new Tablet(await openStore(), round, person);
  await tablet.start();
  await allowReload();
}
