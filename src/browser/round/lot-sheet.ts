import type { TabletEntry } from '../store/types.ts';
import { piecesTrouble } from './rack-words.ts';

/** What writes down the taps on lots. */
export interface EntryLog {
  newEntry(kind: string, label: string): TabletEntry;
  /** Writes it down as still being noted. */
  open(entry: TabletEntry): Promise<void>;
  /** Changes what is still being noted; false when it is on its way already. */
  amend(entry: TabletEntry): Promise<boolean>;
  /** Ends what is being noted: from now on it is sent. */
  close(): Promise<void>;
  markScreen(): Promise<void>;
  /** The entry of a lot on this round that could be taken back: as drawn, or tapped since. */
  entryOf(lotId: string): { id: string; words: string } | null;
  takeBack(entryId: string, label: string): Promise<void>;
  /** Keeps a photo of a lot to be sent after its entry; false where there was no room for it. */
  photo(lotId: string, entryId: string | null, label: string, file: Blob): Promise<boolean>;
}

/**
 * Records a lot from its plate or its row on the rack's screen. The first tap opens its sheet, the second chooses what is
 * seen and is written down. A grade, a count and a note may follow; all is one entry until the sheet is closed.
 */
export class LotSheet {
  readonly #log: EntryLog;
  #dialog: HTMLDialogElement | null = null;
  #item: HTMLElement | null = null;
  /** Its address finds the plate or row again that opened it, on a screen drawn anew meanwhile. */
  #opener: { lot: string; isPlate: boolean } | null = null;
  #entry: TabletEntry | null = null;
  #writing: Promise<void> = Promise.resolve();

  constructor(log: EntryLog) {
    this.#log = log;
    document.addEventListener('click', (event) => this.#click(event));
    document.addEventListener('input', (event) => this.#input(event));
    document.addEventListener('keydown', (event) => this.#key(event));
  }

  get busy(): boolean {
    return this.#item !== null;
  }

  /** Closes the open sheet; what was chosen in it is sent. The focus goes back to where it was opened. */
  async close(): Promise<void> {
    const dialog = this.#dialog;
    if (dialog === null) return;
    this.#dialog = null;
    this.#item = null;
    dialog.close();
    dialog.remove();
    this.#focusOpener();
    await this.#writing;
    this.#entry = null;
    await this.#log.close();
  }

  /** A tap beside the sheet closes it; on another plate or the rack's own button it does what that says as well. */
  async #closeFor({ clientX, clientY }: MouseEvent): Promise<void> {
    await this.close();
    const below = document.elementFromPoint(clientX, clientY);
    below?.closest<HTMLElement>('[data-plate], [data-well]')?.click();
  }

  #focusOpener(): void {
    if (this.#opener === null) return;
    const { lot, isPlate } = this.#opener;
    const plate = document.querySelector<HTMLElement>(`.plate.open`);
    plate?.classList.remove('open');
    const row = document.querySelector<HTMLElement>(`li[data-lot="${lot}"] .round-row`);
    const first = document.querySelector<HTMLElement>(`[data-plate="${lot}"][data-first]`);
    (isPlate ? (plate ?? first) : row)?.focus({ preventScroll: true });
  }

  #click(event: MouseEvent): void {
    const target = event.target as Element;
    // What lies around an open sheet answers for the whole page: a tap there lands on the sheet or on the page's root.
    const within = target !== this.#dialog && this.#dialog?.contains(target) === true;
    if (this.#dialog !== null && !within && isBeside(this.#dialog, event)) return void this.#closeFor(event);
    const opener = target.closest<HTMLElement>('[data-plate], li[data-lot] .round-row');
    const lot = opener?.dataset.plate ?? opener?.closest<HTMLElement>('li[data-lot]')?.dataset.lot;
    if (opener !== null && lot !== undefined && plainClick(event)) {
      event.preventDefault();
      void this.#open(lot, opener);
    } else if (target.closest('[data-done]')) void this.#finish();
    else if (target.closest('[data-undo]')) void this.#undo();
  }

  /** Arrows go from choice to choice and choose nothing; Space does. */
  #key(event: KeyboardEvent): void {
    const target = event.target as HTMLElement;
    if (this.#dialog?.contains(target) !== true) return;
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (step === undefined || !target.matches('input[type="radio"]')) return;
    event.preventDefault();
    const choices = [
      ...this.#dialog.querySelectorAll<HTMLInputElement>('fieldset:not([hidden]) input[type="radio"]'),
    ];
    choices.at((choices.indexOf(target as HTMLInputElement) + step) % choices.length)?.focus();
  }

  async #open(lot: string, opener: HTMLElement): Promise<void> {
    await this.close();
    const item = document.querySelector<HTMLElement>(`li[data-lot="${lot}"]`);
    const template = document.querySelector<HTMLTemplateElement>('template#noting');
    const dialog = template?.content.querySelector('dialog')?.cloneNode(true) as
      | HTMLDialogElement
      | undefined;
    if (item === null || dialog === undefined) return;
    const facts = item.querySelector<HTMLTemplateElement>('template[data-facts]');
    if (facts) dialog.querySelector('[data-facts-here]')?.append(facts.content.cloneNode(true));
    const compared = dialog.querySelector<HTMLElement>('.compared');
    if (compared !== null) compared.hidden = item.dataset.before === undefined;
    // Beside the plate, so that it stays in sight.
    dialog.classList.toggle('left', opener.getBoundingClientRect().left > innerWidth / 2);
    if (opener.dataset.plate !== undefined) opener.classList.add('open');
    document.body.append(dialog);
    this.#opener = { lot, isPlate: opener.dataset.plate !== undefined };
    this.#item = item;
    this.#dialog = dialog;
    dialog.addEventListener('cancel', (event) => {
      event.preventDefault();
      void this.close();
    });
    this.#sayNoted();
    dialog.showModal();
  }

  #sayNoted(): void {
    const [dialog, item] = [this.#dialog, this.#item];
    const place = dialog?.querySelector<HTMLElement>('[data-noted]');
    if (!place || item === null) return;
    const entry = this.#log.entryOf(item.dataset.lot ?? '');
    place.hidden = entry === null;
    const words = place.querySelector('[data-noted-words]');
    if (words !== null) words.textContent = entry?.words ?? '';
  }

  async #undo(): Promise<void> {
    await this.#writing;
    const { lot = '', label = '' } = this.#item?.dataset ?? {};
    const entry = this.#log.entryOf(lot);
    await this.close();
    if (entry !== null) await this.#log.takeBack(entry.id, label);
  }

  /** Closes, unless what stands for the pieces cannot be: that is said while the sheet is open. */
  async #finish(): Promise<void> {
    await this.#writing;
    const pieces = this.#dialog?.querySelector<HTMLInputElement>('input[name="pieces"]');
    const there = Number(this.#item?.dataset.pieces);
    const wrong = piecesTrouble(pieces?.value ?? '', this.#entry?.state === 'lost' ? there : null);
    if (!pieces || wrong === '') return this.close();
    sayWrong(pieces, wrong);
    pieces.focus();
  }

  #input(event: Event): void {
    const [dialog, item] = [this.#dialog, this.#item];
    if (dialog === null || item === null || !dialog.contains(event.target as Node)) return;
    const input = event.target as HTMLInputElement;
    const file = input.files?.[0];
    if (file !== undefined) {
      this.#writing = this.#writing.then(() => this.#photo(dialog, item, file));
      return;
    }
    if (input.name === 'pieces' || input.name === 'state')
      dialog.querySelector('[data-pieces-wrong]')?.remove();
    if (input.name === 'compared') goOnFrom(dialog, item);
    if (input.name === 'state') dropAsBefore(dialog, item, input.value);
    // One after the other, so that a quick second tap changes the entry that the first one made.
    this.#writing = this.#writing.then(() => this.#write(dialog, item));
    if (input.name === 'compared' && input.value === 'as_before') void this.close();
  }

  async #write(dialog: HTMLDialogElement, item: HTMLElement): Promise<void> {
    const value = (name: string) => typedIn(dialog, name);
    const [state, grade, compared, note, pieces] = [
      value('state'),
      value('grade'),
      value('compared'),
      value('note'),
      value('pieces'),
    ];
    const kind = state === '' ? 'count' : 'condition';
    askHowMany(dialog, item, state);
    const emptied = askWhichEmptied(dialog, item, pieces);
    if (state === '' && pieces === '') return;
    const typed = { lotId: item.dataset.lot ?? '', rackId: rackOf(item), note, pieces, emptied };
    const more =
      state === 'pest'
        ? { pest: value('pest'), pestCount: value('pestCount') }
        : state === 'lost'
          ? { cause: value('cause') }
          : {};
    const fields = kind === 'count' ? typed : { ...typed, state, grade, compared, ...more };
    const before = this.#entry;
    const entry: TabletEntry =
      before === null
        ? { ...this.#log.newEntry(kind, item.dataset.label ?? ''), ...fields }
        : { ...before, kind, ...fields };
    if (before === null || !(await this.#log.amend(entry))) await this.#log.open(this.#anew(entry, before));
    else this.#entry = entry;
    await this.#log.markScreen();
    if (this.#dialog === dialog) this.#sayNoted();
  }

  async #photo(dialog: HTMLDialogElement, item: HTMLElement, file: File): Promise<void> {
    const { lot = '', label = '' } = item.dataset;
    const kept = await this.#log.photo(lot, this.#entry?.id ?? null, label, file);
    const said = dialog.querySelector<HTMLElement>('[data-photos]');
    if (said === null) return;
    const count = Number(said.dataset.photos ?? 0) + (kept ? 1 : 0);
    said.dataset.photos = String(count);
    said.textContent = kept
      ? count === 1
        ? '1 photo kept'
        : `${count} photos kept`
      : 'Not kept: tablet full';
    if (kept) showPair(dialog, file);
  }

  /** An entry that is on its way is followed by another instead of being changed. */
  #anew(entry: TabletEntry, before: TabletEntry | null): TabletEntry {
    this.#entry = before === null ? entry : { ...entry, ...this.#log.newEntry(entry.kind, entry.label) };
    return this.#entry;
  }
}

const typedIn = (dialog: HTMLElement, name: string) =>
  dialog.querySelector<HTMLInputElement | HTMLSelectElement>(
    `select[name="${name}"], input[name="${name}"]:is(:checked, :not([type="radio"]))`,
  )?.value ?? '';

const choose = (dialog: HTMLElement, name: string, value: string | null) => {
  for (const input of dialog.querySelectorAll<HTMLInputElement>(`input[name="${name}"]`))
    input.checked = input.value === value;
};

/** Better, worse or as before is said of the state and the grade of the last look, until another is chosen. */
function goOnFrom(dialog: HTMLElement, { dataset }: HTMLElement): void {
  const chosen = typedIn(dialog, 'state');
  if (chosen !== '' && typedIn(dialog, 'compared') !== 'as_before') return;
  choose(dialog, 'state', dataset.state ?? null);
  choose(dialog, 'grade', dataset.grade || null);
}

/** Another state than the last one is not as before, and one that is well is neither better nor worse. */
function dropAsBefore(dialog: HTMLElement, { dataset }: HTMLElement, state: string): void {
  const compared = typedIn(dialog, 'compared');
  if (state === 'well' || state === 'lost' || (compared === 'as_before' && state !== dataset.state))
    choose(dialog, 'compared', null);
  if (state !== dataset.state && typedIn(dialog, 'grade') === dataset.grade) choose(dialog, 'grade', null);
}

/** The photo just taken beside the one that stood there. */
function showPair(dialog: HTMLElement, file: Blob): void {
  const photos = dialog.querySelector('.lot-photos');
  const figures = [...(photos?.querySelectorAll('figure') ?? [])];
  const made = document.createElement('figure');
  const image = Object.assign(document.createElement('img'), {
    src: URL.createObjectURL(file),
    alt: 'just taken',
  });
  made.append(image, Object.assign(document.createElement('figcaption'), { textContent: 'just now' }));
  if (photos === null) {
    const holder = Object.assign(document.createElement('div'), { className: 'lot-photos' });
    holder.append(made);
    dialog.querySelector('.lot-facts > .face')?.replaceWith(holder);
  } else {
    if (figures.length > 1) figures.at(-1)?.remove();
    photos.append(made);
  }
}

const rackOf = (item: HTMLElement) => item.closest<HTMLElement>('[data-rack-id]')?.dataset.rackId ?? '';

/** Whether a tap is on what lies around the sheet. */
function isBeside(dialog: HTMLElement, { clientX, clientY }: MouseEvent): boolean {
  const { left, right, top, bottom } = dialog.getBoundingClientRect();
  return clientX < left || clientX > right || clientY < top || clientY > bottom;
}

/** Says beside the field what cannot be in it. */
function sayWrong(field: HTMLInputElement, words: string): void {
  const said = Object.assign(document.createElement('p'), { className: 'field-error', id: 'pieces-wrong' });
  said.setAttribute('role', 'alert');
  said.dataset.piecesWrong = '';
  said.append(words);
  document.getElementById(said.id)?.remove();
  field.before(said);
  field.setAttribute('aria-describedby', said.id);
}

/** Of several pieces of which some are lost, the service wants to know how many are left. */
function askHowMany(dialog: HTMLElement, item: HTMLElement, state: string): void {
  const there = Number(item.dataset.pieces);
  const label = dialog.querySelector<HTMLElement>('label[for="pieces"]');
  if (label === null) return;
  label.dataset.usual ??= label.innerHTML;
  if (state === 'lost' && there > 1) label.textContent = `How many of the ${there} pieces are left?`;
  else label.innerHTML = label.dataset.usual;
}

/** Where fewer pieces are left than slots, asks which of them are empty. Gives those ticked: "A7 A8". */
function askWhichEmptied(dialog: HTMLElement, item: HTMLElement, pieces: string): string {
  const place = dialog.querySelector<HTMLElement>('[data-emptied]');
  const names = (item.dataset.slots ?? '').split(' ').filter((name) => name !== '');
  if (place === null) return '';
  place.hidden = !(Number(pieces) > 0 && Number(pieces) < names.length);
  if (place.hidden) return '';
  if (place.querySelector('input') === null) place.append(...names.map(slotTile));
  return [...place.querySelectorAll<HTMLInputElement>('input:checked')].map(({ value }) => value).join(' ');
}

function slotTile(name: string): HTMLElement {
  const tile = Object.assign(document.createElement('label'), { className: 'tile' });
  tile.append(
    Object.assign(document.createElement('input'), { type: 'checkbox', name: 'emptied', value: name }),
    name,
  );
  return tile;
}

/** A tap or click that asks for nothing special (a new tab, say). */
export function plainClick(event: MouseEvent): boolean {
  return event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey;
}
