import type { QueuedEntry, TabletEntry, TabletRound } from '../store/types.ts';
import { passWords } from './rack-words.ts';
import { element, mark } from './screen.ts';
import { newestEntryByLot, takenBack, untakenByLot } from './tapped-since.ts';

/** How a lot is marked: its words in the row, the word and the ink of its plate. */
interface Marked {
  words: string;
  plate: string;
  ink: string;
}

/** Updates the rows and plates of a rack by what was noted and taken back since they were drawn. */
export function markLots(round: TabletRound, kept: readonly QueuedEntry[]): void {
  const [undone, newest] = [takenBack(kept), newestEntryByLot(kept)];
  const untaken = untakenByLot(kept);
  const pass = round.racks.find(({ path }) => path === location.pathname)?.pass ?? '';
  const items = [...document.querySelectorAll<HTMLElement>('li[data-lot]')];
  for (const item of items) {
    const entry = newest.get(item.dataset.lot ?? '');
    const drawn = item.dataset.entryId;
    // Noted by no entry of its own, it was said to be no worse by the pass of the rack.
    const byPass = drawn === undefined && item.classList.contains('noted') && undone.has(pass);
    if (entry !== undefined) markNoted(item, entry);
    else if (untaken.has(item.dataset.lot ?? '')) markUntaken(item);
    else if (byPass || (drawn !== undefined && undone.has(drawn))) markAsBefore(item);
  }
  sayPass(items);
  const onlyHere = [...untaken].flatMap(([lot, one]) => (one.onlyHere === true ? [lot] : []));
  const unsaid = document.querySelector<HTMLInputElement>('.round-foot input[name="unsaid"]');
  if (unsaid)
    unsaid.value = onlyHere.filter((lot) => items.some(({ dataset }) => dataset.lot === lot)).join(' ');
}

/** What the row of a lot says of an entry: "paling, about a third, no worse". */
export function entryWords(entry: TabletEntry): string {
  return markedBy(entry).words;
}

function markedBy(entry: TabletEntry): Marked {
  const state = tile('state', entry.state ?? '');
  const compared = tile('compared', entry.compared ?? '');
  const grade = entry.grade ? tile('grade', entry.grade) : null;
  const counted = entry.pieces ? `${entry.pieces} there` : null;
  const pest = entry.pest ? pestName(entry.pest) : null;
  const pests = entry.pestCount ? `${entry.pestCount} counted` : null;
  const words = [state?.text, pest, pests, grade?.text, compared?.text, counted].filter(
    (word) => word != null,
  );
  const ink = state === null || entry.state === 'well' ? '' : state.ink;
  return { words: words.join(', '), plate: compared?.text ?? state?.text ?? counted ?? '', ink };
}

function pestName(code: string): string | null {
  const template = document.querySelector<HTMLTemplateElement>('template#noting');
  return template?.content.querySelector(`option[value="${CSS.escape(code)}"]`)?.textContent ?? null;
}

/** What a tile says: its words and how much ink it gets. */
function tile(name: string, value: string): { text: string; ink: string } | null {
  if (value === '') return null;
  const template = document.querySelector<HTMLTemplateElement>('template#noting');
  const input = template?.content.querySelector(`input[name="${name}"][value="${CSS.escape(value)}"]`);
  const label = input?.closest('label');
  if (!label) return null;
  const text = label.dataset.word ?? label.textContent?.trim().toLowerCase() ?? value;
  return { text, ink: label.dataset.ink ?? 'today' };
}

function markNoted(item: HTMLElement, entry: TabletEntry): void {
  const marked = markedBy(entry);
  const ink = marked.ink === '' ? 'watch' : marked.ink;
  item.classList.add('noted');
  delete item.dataset.untaken;
  item
    .querySelector('.state')
    ?.replaceChildren(element('span', { className: `${ink}-word` }, mark(ink), marked.words));
  offerUndo(item, entry.id);
  markPlates(item, { ...marked, said: `noted on this round: ${marked.words}`, noted: true });
}

/** Its note was not taken: nothing is said of it until somebody puts that right. */
function markUntaken(item: HTMLElement): void {
  item.dataset.untaken = '';
  const words = 'note not taken';
  item
    .querySelector('.state')
    ?.replaceChildren(element('span', { className: 'now-word' }, mark('now'), words));
  markPlates(item, { plate: 'not taken', ink: 'now', said: words, noted: false });
}

/** As it was before the round: what was noted since is taken back. */
function markAsBefore(item: HTMLElement): void {
  const { was = '', wasInk = '' } = item.dataset;
  item.classList.remove('noted');
  item.querySelector('.round-undo')?.remove();
  item.querySelector('.state')?.replaceChildren('taken back');
  if (was !== '') item.dataset.open = '';
  markPlates(item, {
    plate: was,
    ink: wasInk,
    said: was === '' ? 'taken back' : `last seen ${was}`,
    noted: false,
  });
}

/** Puts "Undo" beside what was noted, for the newest entry. */
function offerUndo(item: HTMLElement, entryId: string): void {
  const template = document.querySelector<HTMLTemplateElement>('template#undo');
  if (item.querySelector('.round-undo') === null && template !== null)
    item.querySelector('.round-row')?.after(template.content.cloneNode(true));
  const form = item.querySelector<HTMLFormElement>('.round-undo');
  const set = (name: string, value: string) => {
    const input = form?.querySelector<HTMLInputElement>(`input[name="${name}"]`);
    if (input) input.value = value;
  };
  set('entryId', entryId);
  set('label', item.dataset.label ?? '');
  const unseen = form?.querySelector('.unseen');
  if (unseen) unseen.textContent = `: ${item.dataset.label ?? ''}`;
}

function markPlates(
  item: HTMLElement,
  { plate: word, ink, said, noted }: { plate: string; ink: string; said: string; noted: boolean },
): void {
  for (const plate of document.querySelectorAll<HTMLElement>(`[data-plate="${item.dataset.lot}"]`)) {
    plate.classList.remove('now', 'today', 'watch');
    if (ink !== '') plate.classList.add(ink);
    plate.classList.toggle('noted', noted);
    if (plate.dataset.first === undefined) continue;
    plate.setAttribute('aria-label', `${plate.dataset.named}, ${said}`);
    const parts = ink === '' ? [] : [mark(ink), element('span', {}, word)];
    plate.querySelector('.plate-look')?.replaceChildren(...parts);
  }
}

/** What the one tap for the rest of the rack would note now. */
function sayPass(items: readonly HTMLElement[]): void {
  const button = document.querySelector('[data-well]');
  if (button === null) return;
  const untaken = items.filter(({ dataset }) => 'untaken' in dataset);
  const said = items.filter(({ dataset }) => !('untaken' in dataset));
  const open = said.filter((item) => 'open' in item.dataset && !item.classList.contains('noted'));
  const sick = open.filter(({ dataset }) => dataset.before !== undefined);
  const noted = said.filter((item) => item.classList.contains('noted')).length;
  const well = said.length - noted - open.length;
  const lost = open.length - sick.length;
  const words = passWords({ noted, sick: sick.length, lost, untaken: untaken.length, well });
  const say = (part: string, text: string) => {
    const place = button.querySelector(`[data-well-${part}]`);
    if (place !== null) place.textContent = text;
  };
  say('text', words.text);
  say('notes', words.notes);
  const asBefore = button.closest('form')?.querySelector<HTMLInputElement>('input[name="asBefore"]');
  if (asBefore) asBefore.value = sick.map(({ dataset }) => dataset.before).join(' ');
}
