import { showWhole } from './screen.ts';
import type { TabletEntry } from './types.ts';

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
  /** Keeps a photo of a lot to be sent after its entry; false where there was no room for it. */
  photo(lotId: string, entryId: string | null, label: string, file: Blob): Promise<boolean>;
}

/**
 * Records a lot from its row on the rack's screen. The first tap opens the choices, the second chooses one and is written
 * down. A grade, a count and a note may follow; all is one entry until the row is closed.
 */
export class LotRowEditor {
  readonly #log: EntryLog;
  #item: HTMLElement | null = null;
  #entry: TabletEntry | null = null;
  #writing: Promise<void> = Promise.resolve();

  constructor(log: EntryLog) {
    this.#log = log;
    document.addEventListener('click', (event) => this.#click(event));
    document.addEventListener('input', (event) => this.#input(event));
  }

  get busy(): boolean {
    return this.#item !== null;
  }

  /** Closes the open row; what was chosen in it is sent. */
  async close(): Promise<void> {
    const item = this.#item;
    if (item === null) return;
    this.#item = null;
    item.querySelector('.inset')?.remove();
    item.querySelector('.round-row')?.setAttribute('aria-expanded', 'false');
    await this.#writing;
    this.#entry = null;
    await this.#log.close();
  }

  #click(event: MouseEvent): void {
    const target = event.target as Element;
    const row = target.closest<HTMLElement>('li[data-lot] .round-row');
    const item = row?.closest<HTMLElement>('li[data-lot]') ?? null;
    if (row !== null && item !== null && plainClick(event)) {
      event.preventDefault();
      void this.#toggle(item, row);
    } else if (target.closest('[data-done]')) {
      void this.#finish();
    }
  }

  async #toggle(item: HTMLElement, row: HTMLElement): Promise<void> {
    const same = item === this.#item;
    await this.close();
    if (same) return;
    const template = document.querySelector<HTMLTemplateElement>('template#noting');
    if (template === null) return;
    item.append(template.content.cloneNode(true));
    this.#item = item;
    row.setAttribute('aria-expanded', 'true');
    const inset = item.querySelector('.inset');
    inset?.setAttribute('aria-label', `${item.dataset.label}: what do you see?`);
    showWhole(item);
  }

  /** Closes, unless pieces were lost and nobody said how many are left; the focus goes back to the row. */
  async #finish(): Promise<void> {
    const pieces = this.#item?.querySelector<HTMLInputElement>('input[name="pieces"]');
    if (this.#entry?.state === 'lost' && Number(this.#item?.dataset.pieces) > 1 && pieces?.value === '') {
      pieces.focus();
      return;
    }
    // Before anything else: drawn anew meanwhile, the screen keeps the focus where it is.
    this.#item?.querySelector<HTMLElement>('.round-row')?.focus();
    await this.close();
  }

  #input(event: Event): void {
    if (this.#item === null || !this.#item.contains(event.target as Node)) return;
    const item = this.#item;
    const file = (event.target as HTMLInputElement).files?.[0];
    if (file !== undefined) {
      this.#writing = this.#writing.then(() => this.#photo(item, file));
      return;
    }
    // One after the other, so that a quick second tap changes the entry that the first one made.
    this.#writing = this.#writing.then(() => this.#write(item));
  }

  async #write(item: HTMLElement): Promise<void> {
    const value = (name: string) =>
      item.querySelector<HTMLInputElement>(`input[name="${name}"]:is(:checked, :not([type="radio"]))`)
        ?.value ?? '';
    const [state, grade, note, pieces] = ['state', 'grade', 'note', 'pieces'].map(value) as string[];
    const kind = state === '' ? 'count' : 'condition';
    askHowMany(item, state ?? '');
    if (state === '' && pieces === '') return;
    const typed = {
      lotId: item.dataset.lot ?? '',
      rackId: rackOf(item),
      note: note ?? '',
      pieces: pieces ?? '',
    };
    const fields = kind === 'count' ? typed : { ...typed, state: state ?? '', grade: grade ?? '' };
    const before = this.#entry;
    const entry: TabletEntry =
      before === null
        ? { ...this.#log.newEntry(kind, item.dataset.label ?? ''), ...fields }
        : { ...before, kind, ...fields };
    if (before === null || !(await this.#log.amend(entry))) await this.#log.open(this.#anew(entry, before));
    else this.#entry = entry;
    await this.#log.markScreen();
  }

  async #photo(item: HTMLElement, file: File): Promise<void> {
    const { lot = '', label = '' } = item.dataset;
    const kept = await this.#log.photo(lot, this.#entry?.id ?? null, label, file);
    const said = item.querySelector<HTMLElement>('[data-photos]');
    if (said === null) return;
    const count = Number(said.dataset.photos) + (kept ? 1 : 0);
    said.dataset.photos = String(count);
    said.textContent = kept
      ? count === 1
        ? '1 photo kept'
        : `${count} photos kept`
      : 'Not kept: tablet full';
  }

  /** An entry that is on its way is followed by another instead of being changed. */
  #anew(entry: TabletEntry, before: TabletEntry | null): TabletEntry {
    this.#entry = before === null ? entry : { ...entry, ...this.#log.newEntry(entry.kind, entry.label) };
    return this.#entry;
  }
}

const rackOf = (item: HTMLElement) => item.closest<HTMLElement>('[data-rack-id]')?.dataset.rackId ?? '';

/** Of several pieces of which some are lost, the service wants to know how many are left. */
function askHowMany(item: HTMLElement, state: string): void {
  const there = Number(item.dataset.pieces);
  const label = item.querySelector<HTMLElement>('label[for="pieces"]');
  if (label === null) return;
  label.dataset.usual ??= label.innerHTML;
  if (state === 'lost' && there > 1) label.textContent = `How many of the ${there} pieces are left?`;
  else label.innerHTML = label.dataset.usual;
}

/** A tap or click that asks for nothing special (a new tab, say). */
export function plainClick(event: MouseEvent): boolean {
  return event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey;
}
