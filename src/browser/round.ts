// The round on a tablet: what is tapped is written down on the tablet first and sent when the network is there; the
// racks are drawn from the tablet's own copy, so that walking on needs no network either.
import { uuidv7 } from 'uuidv7';
import { markTapped, nextRack } from './round/drawing.ts';
import { type Notebook, Noting, plainClick } from './round/noting.ts';
import { allowReload } from './round/reload.ts';
import { Sender, type Sending } from './round/sender.ts';
import { racksLooked } from './round/standing.ts';
import { openStore, type Store } from './round/store.ts';
import { runTimers } from './round/timer.ts';
import type { Entry, Kept, Round } from './round/types.ts';
import { sentWords } from './round/words.ts';

class Tablet implements Notebook {
  readonly #store: Store;
  readonly #roundId: string;
  readonly #personId: string;
  readonly #sender: Sender;
  readonly #noting: Noting;
  #round: Round | undefined;
  #sending: Sending = { trouble: null, since: null };
  #full = false;

  constructor(store: Store, roundId: string, personId: string) {
    this.#store = store;
    this.#roundId = roundId;
    this.#personId = personId;
    this.#noting = new Noting(this);
    this.#sender = new Sender(store, roundId, {
      changed: (sending) => {
        this.#sending = sending;
        void this.#say();
      },
      fetched: (round) => this.#take(round),
    });
  }

  async start(): Promise<void> {
    this.#round = await this.#store.round(this.#roundId);
    await this.close();
    document.addEventListener('click', (event) => void this.#follow(event));
    document.addEventListener('submit', (event) => void this.#submit(event));
    addEventListener('popstate', () => void this.#draw(location.pathname));
    document.addEventListener('visibilitychange', () => void this.#noting.close());
    addEventListener('pagehide', () => void this.close());
    // Loaded without a network, the page may be that of another rack.
    const page = this.#round?.pages[location.pathname];
    if (page !== undefined && document.title !== titleOf(page)) put(page);
    await this.drawn();
    await this.#sender.refresh();
    this.#sender.kick();
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
    const {
      kind = '',
      label = '',
      next,
      id: _id,
      _csrf,
      _key,
      ...fields
    } = Object.fromEntries([...new FormData(form)].map(([name, value]) => [name, String(value)]));
    await this.#noting.close();
    await this.#write({ ...this.fresh(kind, label), ...fields }, 'waiting');
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
    const state = { lasting, full: this.#full, roundPath: `/rounds/${this.#roundId}` };
    const { strong, rest, link } = sentWords(await this.#store.all(), this.#sending, state);
    const parts: (Node | string)[] = [];
    if (strong !== '')
      parts.push(Object.assign(document.createElement('strong'), { textContent: strong }), ' ');
    if (rest !== '') parts.push(rest, ' ');
    if (link !== null)
      parts.push(Object.assign(document.createElement('a'), { href: link.href, textContent: link.text }));
    if (
      place.textContent?.trim() !==
      parts
        .map((part) => (typeof part === 'string' ? part : part.textContent))
        .join('')
        .trim()
    )
      place.replaceChildren(...parts);
  }
}

/** Whether somebody is typing on the screen, which is then not drawn anew under their hands. */
function typing(): boolean {
  return [...document.querySelectorAll<HTMLInputElement>('main input:not([type="hidden"])')].some(
    (input) =>
      input === document.activeElement || (input.type !== 'radio' && input.value !== input.defaultValue),
  );
}

const titleOf = ({ title }: { title: string }) => `${title} · Evenwater`;

/** Draws a screen, under a notice if one is to stay; the focus stays on what has it, if that is still there. */
function put({ title, html }: { title: string; html: string }, notice: Element | null = null): void {
  const main = document.querySelector('main');
  if (main === null) return;
  const focused = main.contains(document.activeElement) ? selectorOf(document.activeElement) : null;
  const said = [...(main.querySelector('[data-sent]')?.childNodes ?? [])];
  main.innerHTML = html;
  if (notice !== null) main.prepend(notice);
  main.querySelector('[data-sent]')?.replaceChildren(...said);
  document.title = titleOf({ title });
  if (focused !== null) main.querySelector<HTMLElement>(focused)?.focus({ preventScroll: true });
}

/** What finds the same link, button or field on a screen drawn anew. */
function selectorOf(element: Element | null): string | null {
  const [href, name] = [element?.getAttribute('href'), element?.getAttribute('name')];
  if (href) return `a[href="${CSS.escape(href)}"]`;
  if (name) return `[name="${CSS.escape(name)}"]`;
  return element?.hasAttribute('data-well') ? '[data-well]' : null;
}

const head = document.querySelector<HTMLElement>('[data-round]');
if (head !== null) {
  runTimers(head.dataset.now);
  const { round = '', person = '' } = head.dataset;
  const tablet = new Tablet(await openStore(), round, person);
  await tablet.start();
  await allowReload();
}
