import type { QueuedEntry, TabletRound } from '../store/types.ts';
import { markChores, markCounts, markEnd, markResponses, markTests } from './form-marks.ts';
import { markLots } from './lot-marks.ts';
import { element } from './screen.ts';
import { passOf, pumpsLeftOff, racksLooked } from './tapped-since.ts';

/** Updates the drawn screen by what was tapped since it was drawn. */
export function markTappedSince(round: TabletRound, kept: readonly QueuedEntry[]): void {
  const looked = racksLooked(round, kept);
  markLots(round, kept);
  markRacks(round, looked);
  markPassed(round, looked);
  markPassedHere(round, kept);
  markTasks(round, kept);
  markFeedings(round, kept);
  const here = kept.filter(({ roundId, standing }) => roundId === round.id && standing !== 'refused');
  markTests(here);
  markChores(here);
  markCounts(here);
  markResponses(here);
  markEnd(here, looked);
  for (const progress of document.querySelectorAll('[data-progress]')) {
    progress.textContent = `${looked.size} of ${round.racks.length} ${round.racks.length === 1 ? 'rack' : 'racks'}`;
  }
}

function markRacks(round: TabletRound, looked: ReadonlySet<string>): void {
  for (const { id, path, looked: drawn } of round.racks) {
    if (drawn || !looked.has(id)) continue;
    const item = document.querySelector(`li[data-rack="${path}"]`);
    item?.classList.replace('noted', 'done') || item?.classList.add('done');
    const state = item?.querySelector('.state');
    if (state) state.textContent = 'looked at';
  }
  const next = nextRack(round, null, looked);
  markNextRack(round, looked);
  const goOn = document.querySelector<HTMLAnchorElement>('a[data-go-on]');
  if (goOn === null || next === null) return;
  goOn.href = next;
  const name = document.querySelector(`li[data-rack="${next}"] strong`)?.textContent;
  goOn.textContent = `Go on: ${name ?? ''}`;
}

/** A rack whose pass was taken back says no more that it was looked at. */
function markPassed(round: TabletRound, looked: ReadonlySet<string>): void {
  for (const { id, path, looked: drawn } of round.racks) {
    if (!drawn || looked.has(id)) continue;
    if (path === location.pathname) document.querySelector('[data-looked]')?.remove();
    const item = document.querySelector(`li[data-rack="${path}"]`);
    item?.classList.remove('done');
    item?.querySelector('.state')?.replaceChildren('taken back');
  }
}

/** The rack that is shown, passed since it was drawn: says so, and offers to take it back. */
function markPassedHere(round: TabletRound, kept: readonly QueuedEntry[]): void {
  const rack = round.racks.find(({ path }) => path === location.pathname);
  const button = document.querySelector('[data-well]');
  if (rack === undefined || rack.looked || button === null) return;
  const pass = passOf(rack.id, kept);
  const said = document.querySelector<HTMLElement>('[data-looked]');
  button.classList.toggle('quiet', pass !== undefined);
  if (pass === undefined || said?.dataset.looked !== pass.id) said?.remove();
  if (pass === undefined || said?.dataset.looked === pass.id) return;
  const words = element(
    'p',
    {},
    `Looked at: ${new Date(pass.at).toTimeString().slice(0, 5)}, kept on this tablet.`,
  );
  words.setAttribute('role', 'status');
  const place = element(
    'div',
    { className: 'round-looked small' },
    words,
    ...undoForm(pass.id, rack.path, pass.label),
  );
  place.dataset.looked = pass.id;
  document.querySelector('.round-head')?.after(place);
}

/** "Undo" for one entry; nothing where the screen has no such form. */
function undoForm(entryId: string, next: string, label: string): Node[] {
  const template = document.querySelector<HTMLTemplateElement>('template#undo');
  const form = template?.content.querySelector('form')?.cloneNode(true) as HTMLFormElement | undefined;
  if (form === undefined) return [];
  for (const [name, value] of Object.entries({ entryId, next, label })) {
    const input = form.querySelector<HTMLInputElement>(`input[name="${name}"]`);
    if (input) input.value = value;
  }
  form.querySelector('.unseen')?.append(label);
  return [form];
}

/** On a system's page and that of its tests: the rack after it, by what was looked at since. */
function markNextRack(round: TabletRound, looked: ReadonlySet<string>): void {
  const link = document.querySelector<HTMLAnchorElement>('a[data-next-rack]');
  if (link === null) return;
  const here = location.pathname.replace(/\/tests$/, '');
  const last = round.racks.findLast(({ water }) => water?.replace(/\/tests$/, '') === here);
  const next = nextRack(round, last?.path ?? null, looked);
  link.href = next ?? link.dataset.end ?? link.href;
  if (next === null) link.textContent = 'Finish';
}

/** The address of the next rack that wants looking at, from one on and then from the start; null when none does. */
export function nextRack(
  round: TabletRound,
  here: string | null,
  looked: ReadonlySet<string>,
): string | null {
  const at = round.racks.findIndex((rack) => rack.path === here);
  const ahead = [...round.racks.slice(at + 1), ...round.racks.slice(0, Math.max(at, 0))];
  return ahead.find((rack) => !looked.has(rack.id))?.path ?? null;
}

/** Work ticked off since the screen was drawn: it cannot be ticked again. */
function markTasks(round: TabletRound, kept: readonly QueuedEntry[]): void {
  const ticked = kept.filter(
    ({ roundId, standing, entry }) => roundId === round.id && standing !== 'refused' && entry.kind === 'task',
  );
  for (const { entry } of ticked) {
    const item = document.querySelector<HTMLElement>(`li[data-task="${CSS.escape(entry.key ?? '')}"]`);
    if (item === null || item.classList.contains('done')) continue;
    item.classList.add('done');
    item.querySelector('form')?.remove();
    item.querySelector('.caution')?.remove();
    item.querySelector('.state')?.replaceChildren('done, just noted');
  }
}

function markFeedings(round: TabletRound, kept: readonly QueuedEntry[]): void {
  const tapped = kept.filter(
    ({ roundId, standing, entry }) =>
      roundId === round.id && ['feeding', 'task'].includes(entry.kind) && standing !== 'refused',
  );
  for (const { entry } of kept.filter((one) => ['pumps_on', 'seen_running'].includes(one.entry.kind)))
    document.querySelector(`[data-off-id="${entry.feedingId ?? entry.offId ?? ''}"]`)?.remove();
  const off = pumpsLeftOff(tapped, kept);
  const list = document.querySelector('[data-fed]');
  const here = document.querySelector<HTMLElement>('[data-system]')?.dataset.system;
  for (const { entry } of tapped.filter((one) => one.entry.systemId === here)) {
    if (entry.kind === 'task' && !entry.pumpsOffMin) continue;
    const before = `${entry.food ?? ''}|${entry.tankId ?? ''}`;
    document.querySelector(`li[data-before="${CSS.escape(before)}"]`)?.remove();
    const pumps = off.some((one) => one.id === entry.id);
    list?.append(
      element(
        'p',
        { className: 'round-tapped' },
        element('strong', {}, entry.food ?? entry.label),
        ' fed, just noted',
        ...(pumps ? [pumpsForm(entry.id)] : []),
      ),
    );
  }
  const first = off.sort((a, b) => a.due.getTime() - b.due.getTime())[0];
  if (first === undefined || document.querySelector('.round-head .timer') !== null) return;
  const timer = element(
    'p',
    { className: 'timer' },
    element('span', { className: 'small' }, 'Pumps off, back in '),
    element('span', { className: 'val' }),
  );
  timer.dataset.due = first.due.toISOString();
  timer.dataset.clock = 'own';
  document.querySelector('.round-head')?.append(timer);
  if (document.querySelector('[data-fed] form') === null)
    document.querySelector('.round-head')?.append(pumpsForm(first.id));
}

function pumpsForm(feedingId: string): HTMLFormElement {
  const hidden = (name: string, value: string) => element('input', { type: 'hidden', name, value });
  const form = element(
    'form',
    { method: 'post' },
    hidden('kind', 'pumps_on'),
    hidden('feedingId', feedingId),
    element('button', { className: 'button' }, 'The pumps are on again'),
  );
  form.dataset.entry = '';
  return form;
}
