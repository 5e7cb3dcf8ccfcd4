import { unitName } from '../../science/units.ts';
import type { QueuedEntry } from '../store/types.ts';
import { surprises } from './reading-check.ts';
import { element, mark } from './screen.ts';
import { takenBack } from './tapped-since.ts';

const ofKind = (kept: readonly QueuedEntry[], kind: string) =>
  kept.filter(({ entry }) => entry.kind === kind);

/** Readings noted since the screen was drawn, and which of them want a second one by what this page knows. */
export function markTests(kept: readonly QueuedEntry[]): void {
  const here = document.querySelector<HTMLElement>('[data-system]')?.dataset.system;
  for (const { entry } of ofKind(kept, 'reading').filter((one) => one.entry.systemId === here)) {
    if (document.querySelector(`[data-entry-id="${entry.id}"]`)) continue;
    const code = entry.quantityCode ?? '';
    const unit = unitName(code, entry.unit ?? '');
    const said = element('p', { className: 'round-tapped' });
    said.dataset.entryId = entry.id;
    said.append(element('strong', {}, `${entry.text} ${unit}`.trim()), ' just noted');
    const row = document.querySelector<HTMLElement>(`li[data-test="${CSS.escape(code)}"]`);
    if (row === null) said.prepend(`${entry.label.split(', ').at(-1)} `);
    else if (wantsAgain(row, entry)) {
      const words = element('span', { className: 'today-word' }, mark('today'), 'Test again now');
      const { keeps } = row.querySelector('form')?.dataset ?? {};
      const kept = keeps ? ` (${keeps} is kept)` : '';
      said.append(' ', words, ` It is not what the tests before lead to${kept}: a second test settles it.`);
    }
    row?.classList.add('done');
    row?.querySelector('[data-waits]')?.remove();
    (row?.querySelector('.test-said') ?? document.querySelector('[data-tested]'))?.append(said);
  }
}

/** Whether a noted result surprises, by what its row was sent. */
function wantsAgain(row: HTMLElement, entry: QueuedEntry['entry']): boolean {
  const { quantityCode: code = '', text = '', unit = '', how = '', dilution = '', at } = entry;
  const expects = row.querySelector('form')?.dataset.expects ?? '';
  return surprises(expects, { code, text, unit, how, dilution, at }) === true;
}

/** Steps and chores ticked off since: they cannot be ticked again. */
export function markChores(kept: readonly QueuedEntry[]): void {
  for (const { entry } of [...ofKind(kept, 'chore'), ...ofKind(kept, 'fault')]) {
    const item = document.querySelector<HTMLElement>(`li[data-chore="${CSS.escape(entry.key ?? '')}"]`);
    if (item === null || item.classList.contains('done')) continue;
    item.classList.add('done');
    item.querySelector('form')?.remove();
    item.querySelector('details')?.remove();
    const words = entry.kind === 'fault' ? 'something is wrong, just noted' : 'done, just noted';
    item.querySelector('.state')?.replaceChildren(words);
  }
}

/** What a stocktake counted since, on the rack that is shown and on the list of racks. */
export function markCounts(kept: readonly QueuedEntry[]): void {
  const undone = takenBack(kept);
  for (const { entry } of ofKind(kept, 'shelf_count').filter((one) => !undone.has(one.id))) {
    const { rackId = '' } = entry;
    const state = `li[data-count-rack="${CSS.escape(rackId)}"] .state`;
    document.querySelector(state)?.replaceChildren('counted, just noted');
    const form = document.querySelector<HTMLFormElement>('#shelf-count');
    if (form?.querySelector<HTMLInputElement>('input[name="rackId"]')?.value !== rackId) continue;
    for (const [name, pieces] of Object.entries(entry)) {
      if (!name.startsWith('n_') || pieces === '') continue;
      const item = form.querySelector<HTMLElement>(`li[data-count="${CSS.escape(name.slice(2))}"]`);
      item?.classList.add('noted');
      item?.querySelector('.state')?.replaceChildren(`${pieces} counted, just noted`);
    }
  }
}

/** How feedings were taken, said since. */
export function markResponses(kept: readonly QueuedEntry[]): void {
  for (const { entry } of ofKind(kept, 'response')) {
    const form = document.querySelector(`form[data-response="${CSS.escape(entry.feedingId ?? '')}"]`);
    form?.replaceWith(element('span', { className: 'small' }, `${entry.response}, just noted`));
  }
}

/** What became, since it was drawn, of the page on which the round is ended. */
export function markEnd(kept: readonly QueuedEntry[], looked: ReadonlySet<string>): void {
  const leftOut = new Map(ofKind(kept, 'skipped').map(({ entry }) => [entry.rackId, entry.note ?? '']));
  for (const item of document.querySelectorAll<HTMLElement>('li[data-undone]')) {
    const id = item.dataset.undone ?? '';
    const words = looked.has(id)
      ? 'looked at since'
      : leftOut.has(id)
        ? `left out: ${leftOut.get(id)}`
        : null;
    if (words === null) continue;
    item.classList.add('done');
    item.querySelector('details')?.remove();
    item.querySelector('.state')?.replaceChildren(words);
  }
  const [ended] = ofKind(kept, 'finished');
  if (ended === undefined) return;
  const at = new Date(ended.entry.at);
  const time = `${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
  document
    .querySelector('[data-finish]')
    ?.closest('form')
    ?.replaceWith(element('strong', {}, `Finished at ${time}.`));
}
