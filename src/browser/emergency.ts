// The steps when something is wrong: what is tapped is kept on this device first, then sent; without a network the steps
// go on from the copy of their page.
import { uuidv7 } from 'uuidv7';
import { type LookEvent, looksDue } from '../science/numeric/looks-due.ts';
import { minuteMs } from '../science/numeric/time.ts';
import { listRefused } from './emergency/refused-list.ts';
import { sendAll } from './emergency/sender.ts';
import {
  isToBeSent,
  type KeptEmergency,
  type KeptEntry,
  keep,
  keptEmergencies,
  keptEmergency,
  unsent,
  whyRefused,
} from './emergency/store.ts';

/** How often what is not sent is tried again, ms. Own choice. */
const retryMs = 5000;

const page = document.querySelector<HTMLElement>('[data-wrong]');
const clock = (iso: string) =>
  new Date(iso).toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' });
const find = <E extends HTMLElement>(selector: string) => document.querySelector<E>(selector);
const all = <E extends HTMLElement>(selector: string) => [...document.querySelectorAll<E>(selector)];

/** Says what is on this device alone, or was not taken. */
function sayUnsent(): void {
  const line = find('[data-unsent]');
  if (line === null) return;
  const waiting = keptEmergencies().filter(unsent);
  const why = waiting.map(whyRefused).find((reason) => reason !== '');
  line.hidden = waiting.length === 0;
  line.textContent =
    why === undefined
      ? 'No network. Your ticks are kept on this device with their times, and sent when the network is back.'
      : 'Not all was taken by the service. Send it again, change it, or put it aside.';
  listRefused(() => {
    sayUnsent();
    void sendAll().then(sayUnsent);
  });
}

/** Those that run on this device alone, on the first page. */
function listOwn(): void {
  if (page?.dataset.choice === undefined) return;
  for (const { id, event, startedAt, known } of keptEmergencies()) {
    if (known) continue;
    const link = document.createElement('a');
    link.className = 'wrong-choice';
    link.href = `/emergencies/events/${event}#${id}`;
    link.textContent = `Begun on this device at ${clock(startedAt)}: go on`;
    find('[data-unsent]')?.after(link);
  }
}

class Steps {
  #kept: KeptEmergency;

  constructor(kept: KeptEmergency) {
    this.#kept = kept;
  }

  /** Shows the steps for its systems, with what is ticked on this device and not on the page yet. */
  show(): void {
    for (const form of all('[data-start], [data-several], [data-read]')) form.hidden = true;
    find('[data-steps]')?.setAttribute('data-one', '');
    for (const hidden of all('[data-noting], [data-tick]')) hidden.hidden = false;
    const own = new Set(this.#kept.systemIds);
    for (const numbers of all('[data-system]')) numbers.hidden = !own.has(numbers.dataset.system ?? '');
    for (const option of all<HTMLOptionElement>('select[name="systemId"] option'))
      if (!own.has(option.value)) option.remove();
    for (const entry of this.#kept.entries) if (this.#isNew(entry)) this.#mark(entry);
    this.#goOn();
    sayUnsent();
  }

  /** Sent after the page was drawn, or not at all. */
  #isNew({ sentAt }: KeptEntry): boolean {
    const drawn = page?.dataset.drawn;
    return sentAt === undefined || drawn === undefined || sentAt > drawn;
  }

  /** Keeps one entry, shows it, and sends it. */
  async add(fields: Record<string, string>): Promise<void> {
    const entry: KeptEntry = {
      id: uuidv7(),
      kind: fields.kind ?? 'note',
      step: fields.step ?? '',
      text: fields.text ?? '',
      at: new Date().toISOString(),
      notedBy: page?.dataset.person ?? null,
      ...Object.fromEntries(
        Object.entries(fields).filter(([name]) =>
          ['minutes', 'systemId', 'thing', 'offId', 'contactId'].includes(name),
        ),
      ),
    };
    this.#kept = keptEmergency(this.#kept.id) ?? this.#kept;
    this.#kept = { ...this.#kept, entries: [...this.#kept.entries, entry] };
    keep(this.#kept);
    this.#mark(entry);
    this.#goOn();
    await this.send(entry.kind !== 'done' && entry.kind !== 'undone');
  }

  /** Sends; on the service's own page, draws anew what the page does not mark by itself. */
  async send(redraw: boolean): Promise<void> {
    const sent = await sendAll();
    sayUnsent();
    if (!sent || keptEmergency(this.#kept.id)?.known !== true) return;
    if (page?.dataset.emergency === undefined) location.replace(`/emergencies/${this.#kept.id}`);
    else if (redraw) location.reload();
  }

  #mark(entry: KeptEntry): void {
    if (entry.kind === 'done' || entry.kind === 'undone') this.#markStep(entry);
    else {
      const line = document.createElement('li');
      const said = {
        look: 'Look again',
        looked: 'Looked',
        off: 'Switched off',
        running: 'Seen running',
        left_off: 'Stays off',
        called: 'Called',
        taken: 'Taken',
      };
      const what = said[entry.kind as keyof typeof said] ?? 'Note';
      line.textContent = `${clock(entry.at)} ${what}${entry.text === '' ? '' : `: ${entry.text}`}`;
      find('[data-noted]')?.append(line);
    }
    const next = nextLook(this.#looksOf(entry));
    if (next !== null) next.due === null ? find('.look-timer')?.remove() : showLook(next.due);
  }

  /** What an entry does to the looks: by the same rules as the service. */
  #looksOf(entry: KeptEntry): LookEvent | null {
    if (entry.kind === 'looked') return { looked: new Date(entry.at) };
    if (entry.kind === 'undone') return { key: entry.step, due: null };
    const minutes = entry.kind === 'look' ? Number(entry.minutes ?? 30) : this.#againOf(entry);
    if (minutes === 0) return null;
    const key = entry.kind === 'done' ? entry.step : '';
    return { key, due: new Date(Date.parse(entry.at) + minutes * minuteMs) };
  }

  #againOf({ kind, step }: KeptEntry): number {
    const card = kind === 'done' ? find(`[data-step="${step}"]`) : null;
    const own = (card?.dataset.againBy ?? '')
      .split(' ')
      .map((one) => one.split(':'))
      .filter(([id]) => this.#kept.systemIds.includes(id ?? ''))
      .map(([, minutes]) => Number(minutes));
    return own.length > 0 ? Math.min(...own) : Number(card?.dataset.again ?? 0);
  }

  #markStep({ kind, step, at }: KeptEntry): void {
    const [card, row] = [find(`[data-step="${step}"]`), find(`[data-step-row="${step}"]`)];
    if (card === null || row === null) return;
    const done = kind === 'done';
    card.toggleAttribute('data-done', done);
    const words = row.querySelector('[data-done-words]');
    if (words !== null) words.textContent = done ? `done ${clock(at)}` : '';
    const tick = row.querySelector('.step-tick');
    if (tick !== null) tick.textContent = done ? '✓' : String(all('[data-step]').indexOf(card) + 1);
    const [field, button] = [
      card.querySelector<HTMLInputElement>('[name="kind"]'),
      card.querySelector('button'),
    ];
    if (field !== null) field.value = done ? 'undone' : 'done';
    if (button !== null) {
      button.textContent = done ? 'Not done after all' : 'Done';
      button.classList.toggle('quiet', done);
    }
    tell(`${done ? 'Done' : 'Not done after all'}: ${card.querySelector('h2')?.textContent ?? step}`, at);
  }

  /** Shows the first step that is not done. */
  #goOn(): void {
    const next = all('[data-step]').find((card) => card.dataset.done === undefined);
    if (next !== undefined) showCard(next.dataset.step ?? '');
  }
}

/** Adds a line to what was done, on the page of an emergency that the service knows. */
function tell(what: string, at: string): void {
  const story = find('[data-story]');
  if (story === null) return;
  const line = document.createElement('tr');
  for (const text of [clock(at), what])
    line.append(Object.assign(document.createElement('td'), { textContent: text }));
  line.firstElementChild?.classList.add('n');
  story.append(line);
  story.closest('table')?.removeAttribute('hidden');
  find('[data-no-story]')?.remove();
}

/** The looks of this page: as the service had them when it was drawn, then as they are asked for on this device. */
const looks: LookEvent[] = (JSON.parse(page?.dataset.looks ?? '[]') as [string, string][]).map(
  ([key, due]) => ({ key, due: new Date(due) }),
);

/** The look that is next once this has happened; null where it changes nothing. */
function nextLook(event: LookEvent | null): { due: Date | null } | null {
  if (event === null) return null;
  const [before] = looksDue(looks);
  looks.push(event);
  const [after] = looksDue(looks);
  const due = after?.[1] ?? null;
  return due?.getTime() === before?.[1].getTime() ? null : { due };
}

function showCard(code: string): void {
  for (const card of all('[data-step]')) card.toggleAttribute('data-current', card.dataset.step === code);
  for (const row of all('[data-step-row]')) {
    if (row.dataset.stepRow === code) row.setAttribute('aria-current', 'step');
    else row.removeAttribute('aria-current');
  }
}

/** The countdown of a look that was asked for on this device. */
function showLook(due: Date): void {
  find('.look-timer')?.remove();
  const timer = document.createElement('aside');
  timer.className = 'look-timer timer';
  timer.dataset.due = due.toISOString();
  timer.dataset.clock = 'own';
  timer.innerHTML = '<p><strong>Look again</strong> at <span data-at></span> <span class="val"></span></p>';
  const at = timer.querySelector('[data-at]');
  if (at !== null) at.textContent = clock(due.toISOString());
  (find('[data-look-place]') ?? find('[data-steps]'))?.before(timer);
}

const fieldsOf = (form: HTMLFormElement, by: HTMLElement | null) => new FormData(form, by);

function begin(form: HTMLFormElement, by: HTMLElement | null): Steps | null {
  const chosen = fieldsOf(form, by).getAll('systems').map(String);
  const every = all<HTMLButtonElement>('button[data-system-name]').map(({ value }) => value);
  const systemIds = chosen.includes('all') ? every : chosen;
  if (systemIds.length === 0) return null;
  const kept: KeptEmergency = {
    id: uuidv7(),
    event: page?.dataset.event ?? '',
    systemIds,
    startedAt: new Date().toISOString(),
    startedBy: page?.dataset.person ?? null,
    entries: [],
    known: false,
    refused: '',
  };
  keep(kept);
  history.replaceState(null, '', `#${kept.id}`);
  return new Steps(kept);
}

/** The emergency of this page: one of the service's, or one that was begun on this device. */
function ofThisPage(): Steps | null {
  const id = page?.dataset.emergency ?? location.hash.slice(1);
  const kept = keptEmergency(id);
  if (kept !== undefined) return new Steps(kept);
  if (page?.dataset.emergency === undefined) return null;
  const systemIds = [
    ...new Set(all('select[name="systemId"] option').map((option) => (option as HTMLOptionElement).value)),
  ];
  const started = page.dataset.started ?? new Date().toISOString();
  const event = page.dataset.event ?? '';
  return new Steps({
    id,
    event,
    systemIds,
    startedAt: started,
    startedBy: null,
    entries: [],
    known: true,
    refused: '',
  });
}

if (page !== null) {
  let steps = ofThisPage();
  steps?.show();
  listOwn();
  sayUnsent();
  document.addEventListener('submit', (event) => {
    const form = event.target as HTMLFormElement;
    if (form.dataset.start !== undefined) {
      const begun = begin(form, event.submitter);
      if (begun === null) return;
      event.preventDefault();
      steps = begun;
      steps.show();
      void steps.send(false);
    } else if (steps !== null && (form.dataset.tick !== undefined || form.dataset.entry !== undefined)) {
      event.preventDefault();
      const { _csrf, _key, ...fields } = Object.fromEntries(
        [...fieldsOf(form, event.submitter)].map(([name, value]) => [name, String(value)]),
      );
      if (form.dataset.entry !== undefined) form.reset();
      void steps.add(fields);
    }
  });
  document.addEventListener('click', (event) => {
    const link = (event.target as Element).closest<HTMLElement>('[data-step-link]');
    if (link === null || steps === null) return;
    event.preventDefault();
    showCard(link.dataset.stepLink ?? '');
  });
  const sendWaiting = () => void (steps === null ? sendAll().then(sayUnsent) : steps.send(false));
  addEventListener('online', sendWaiting);
  const waits = () => keptEmergencies().some(isToBeSent);
  const tryAgain = () => waits() && sendWaiting();
  tryAgain();
  // A network that comes back does not always say so.
  setInterval(tryAgain, retryMs);
}
