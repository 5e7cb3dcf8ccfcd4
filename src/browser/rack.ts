// The drawing of a rack: zoom, choosing free slots to take a lot in there, ticking lots, and moving a lot by tapping it and a slot, or by
// dragging it. What the move means is shown
// before anything is done; the move itself is confirmed on its own page, as without this script.

interface MoveEffect {
  lot: string;
  to: string;
  taken: string | null;
  statements: string[];
  risks: string[];
  inSteps: boolean;
  neighbours: string[];
}

const region = document.querySelector<HTMLElement>('[data-rack]');
const sheets = [...(region?.querySelectorAll<SVGSVGElement>('.rack-sheet > svg') ?? [])];
const message = document.querySelector<HTMLElement>('[data-move-said]');
const tools = document.querySelector<HTMLElement>('[data-rack-tools]');
const answers = new Map<string, Promise<MoveEffect | string>>();

let zoom = 0;
/** Code of the lot that is being moved. */
let movingLot = region?.dataset.movingLot ?? null;
/** In move mode a tap chooses a lot or its new slot instead of following the link. */
let moveMode = false;
/** While slots are chosen to take a lot in there: each by a tap, or several by dragging over them. Else null. */
let choosing: Set<string> | null = null;
/** In tick mode a tap on a lot ticks its box in the table below. */
let tickMode = false;
/** True while the pointer is down and draws over slots. */
let drawing = false;
/** The slot where it began: what the tap did there, moving on does not undo. */
let firstSlot = '';
/** The lot and slot asked about last; an answer to an older question is dropped. */
let lastQuestion = '';

function resize(step: number): void {
  zoom = Math.min(4, Math.max(-3, zoom + step));
  const factor = 1.25 ** zoom;
  for (const svg of sheets) {
    svg.style.setProperty('--zoom', String(factor));
    svg.style.width = `${svg.width.baseVal.value * factor}px`;
  }
}

async function ask(lot: string, slot: string): Promise<MoveEffect | string> {
  const query = new URLSearchParams({ lot, slot });
  const answer = await fetch(`/api/moves/meaning?${query}`, { headers: { accept: 'application/json' } });
  const body = await answer.json();
  return answer.ok ? body : (body.detail ?? 'That cannot be told now.');
}

/** What a move means; asked once for a lot and a slot, and again after an error. */
async function moveEffect(lot: string, slot: string): Promise<MoveEffect | string> {
  const key = `${lot} ${slot}`;
  const asking = answers.get(key) ?? ask(lot, slot).catch(() => 'No answer: is the network there?');
  answers.set(key, asking);
  const answer = await asking;
  if (typeof answer === 'string') answers.delete(key);
  return answer;
}

const moveAddress = (lot: string, slot: string): string =>
  `/racks/move?${new URLSearchParams({ lot, slot })}`;

const stepsAddress = (lot: string, slot: string): string =>
  `/stock/acclimations/new?${new URLSearchParams({ lot, slot, show: 'yes' })}`;

function setMessage(...parts: (string | Node)[]): void {
  if (message === null) return;
  message.hidden = parts.length === 0;
  message.replaceChildren(...parts);
}

function strong(text: string): HTMLElement {
  const element = document.createElement('strong');
  element.textContent = text;
  return element;
}

function link(text: string, href: string): HTMLElement {
  const element = document.createElement('a');
  element.className = 'button';
  element.href = href;
  element.textContent = text;
  return element;
}

/** How many neighbours are named here; the page that confirms the move names them all. */
const NAMED = 2;

function neighbourWords(neighbours: readonly string[]): string {
  const more = neighbours.length - NAMED;
  return `Beside it: ${neighbours.slice(0, NAMED).join('; ')}${more > 0 ? `; and ${more} more` : ''}.`;
}

/** Shows what a move means; with `offer`, also the links that make it. */
async function showEffect(lot: string, slot: string, offer: boolean): Promise<void> {
  if (lastQuestion === `${lot} ${slot}` && !offer) return;
  lastQuestion = `${lot} ${slot}`;
  message?.setAttribute('aria-busy', 'true');
  const answer = await moveEffect(lot, slot);
  if (lastQuestion !== `${lot} ${slot}`) return;
  message?.removeAttribute('aria-busy');
  if (typeof answer === 'string') return setMessage(answer);
  if (answer.taken !== null) return setMessage(`${answer.to}: ${answer.taken} is there. Choose a free slot.`);
  const neighbours = answer.neighbours.length === 0 ? [] : [neighbourWords(answer.neighbours)];
  const risks = answer.risks.length === 0 ? [] : [strong(answer.risks.join(' ')), ' '];
  const text = [...answer.statements, ...neighbours].join(' ');
  const links = offer ? [' ', link(`Move to ${answer.to}`, moveAddress(lot, slot))] : [];
  if (offer && answer.inSteps) links.unshift(' ', link('Go there in steps', stepsAddress(lot, slot)));
  setMessage(strong(`${answer.lot} to ${answer.to}. `), ...risks, text, ...links);
}

function chooseLot(lot: string | null): void {
  movingLot = lot;
  for (const cell of region?.querySelectorAll<SVGAElement>('a[data-lot]') ?? [])
    cell.querySelector('.lot')?.classList.toggle('chosen', lot !== null && cell.dataset.lot === lot);
}

const cellAt = (target: EventTarget | null): SVGAElement | null =>
  target instanceof Element ? target.closest<SVGAElement>('a[data-slot]') : null;

/** Puts a free slot into the choice, or takes it out again; shows what is chosen. */
function chooseSlot(cell: SVGAElement, put: boolean): void {
  const { slot, lot } = cell.dataset;
  if (choosing === null || slot === undefined || lot !== undefined) return;
  if (put) choosing.add(slot);
  else choosing.delete(slot);
  cell.classList.toggle('chosen-slot', put);
  const count = choosing.size;
  if (count === 0) {
    setMessage('Tap the free slots it takes, or draw over them.');
    return;
  }
  const query = new URLSearchParams([...choosing].map((id) => ['slot', id]));
  const words = count === 1 ? '1 slot is chosen. ' : `${count} slots are chosen. `;
  setMessage(words, link('Take in a lot there', `/stock/new?${query}`));
}

function startChoosing(start: boolean): void {
  choosing = start ? new Set() : null;
  region?.classList.toggle('choosing', start);
  for (const cell of region?.querySelectorAll('.chosen-slot') ?? []) cell.classList.remove('chosen-slot');
  if (start) setMessage('Tap the free slots it takes, or draw over them.');
  else setMessage();
}

const boxOf = (lot: string | undefined): HTMLInputElement | undefined =>
  [...document.querySelectorAll<HTMLInputElement>('input[name="lot"]')].find((box) => box.value === lot);

/** Shows on the drawing which lots are ticked. */
function showTicks(): void {
  for (const cell of region?.querySelectorAll<SVGAElement>('a[data-lot]') ?? [])
    cell.classList.toggle('ticked', boxOf(cell.dataset.lot)?.checked === true);
}

function tickLot(cell: SVGAElement | null): void {
  const box = boxOf(cell?.dataset.lot);
  if (box === undefined) return;
  box.checked = !box.checked;
  box.dispatchEvent(new Event('change', { bubbles: true }));
}

function onTap(event: MouseEvent): void {
  if (choosing !== null) {
    event.preventDefault();
    return;
  }
  const cell = cellAt(event.target);
  if (tickMode && cell !== null) {
    event.preventDefault();
    tickLot(cell);
    return;
  }
  if (cell === null || !moveMode || cell.dataset.slot === undefined) return;
  event.preventDefault();
  if (cell.dataset.lot !== undefined) {
    chooseLot(cell.dataset.lot);
    setMessage(`${cell.dataset.lot} is chosen. Tap the slot it goes to.`);
  } else if (movingLot !== null) void showEffect(movingLot, cell.dataset.slot, true);
  else setMessage('Tap a lot first.');
}

function onOver(event: Event): void {
  const cell = cellAt(event.target);
  if (cell?.dataset.slot !== undefined && cell.dataset.lot === undefined && movingLot !== null)
    void showEffect(movingLot, cell.dataset.slot, moveMode);
}

let drag: { lot: string; x: number; y: number; started: boolean } | null = null;
/** A pointer moved further than this, px, is a drag and no click (own choice). */
const DRAG_DISTANCE = 8;

function onDown(event: PointerEvent): void {
  const cell = cellAt(event.target);
  if (choosing !== null) {
    drawing = true;
    firstSlot = cell?.dataset.slot ?? '';
    if (cell?.dataset.slot !== undefined) chooseSlot(cell, !choosing.has(cell.dataset.slot));
    return;
  }
  if (event.pointerType !== 'mouse' || event.button !== 0 || cell?.dataset.lot === undefined || tickMode)
    return;
  drag = { lot: cell.dataset.lot, x: event.clientX, y: event.clientY, started: false };
}

function onMove(event: PointerEvent): void {
  if (drawing) {
    const cell = cellAt(document.elementFromPoint(event.clientX, event.clientY));
    if (cell !== null && cell.dataset.slot !== firstSlot) chooseSlot(cell, true);
    return;
  }
  if (drag === null) return;
  if (!drag.started && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < DRAG_DISTANCE) return;
  if (!drag.started) {
    drag.started = true;
    chooseLot(drag.lot);
    region?.classList.add('dragging');
  }
  onOver(event);
}

function onUp(event: PointerEvent): void {
  drawing = false;
  const ended = drag;
  drag = null;
  region?.classList.remove('dragging');
  if (ended === null || !ended.started) return;
  // The click that follows a drag is not a tap on the lot.
  addEventListener('click', (click) => click.preventDefault(), { capture: true, once: true });
  const cell = cellAt(document.elementFromPoint(event.clientX, event.clientY));
  if (cell?.dataset.slot !== undefined && cell.dataset.lot === undefined)
    location.assign(moveAddress(ended.lot, cell.dataset.slot));
  else if (!moveMode) {
    chooseLot(null);
    setMessage();
  }
}

if (tools !== null) {
  tools.hidden = false;
  for (const button of tools.querySelectorAll<HTMLButtonElement>('[data-zoom]'))
    button.addEventListener('click', () => resize(Number(button.dataset.zoom)));
  // One of the ways of tapping at a time.
  const modes = { moving: '[data-moving]', choosing: '[data-choosing]', tapping: '[data-tapping]' } as const;
  const buttons = Object.entries(modes).map(([mode, selector]) => ({
    mode,
    button: tools.querySelector<HTMLButtonElement>(selector),
  }));
  for (const { mode, button } of buttons)
    button?.addEventListener('click', () => {
      const on = button.getAttribute('aria-pressed') !== 'true';
      for (const other of buttons)
        other.button?.setAttribute('aria-pressed', String(on && other.mode === mode));
      chooseLot(null);
      startChoosing(on && mode === 'choosing');
      moveMode = on && mode === 'moving';
      tickMode = on && mode === 'tapping';
      if (moveMode) setMessage('Tap the lot to be moved.');
      if (tickMode) setMessage('Tap lots to tick them; tap again to untick.');
    });
  document.addEventListener('change', showTicks);
  addEventListener('pageshow', showTicks);
  showTicks();
  region?.addEventListener('pointerdown', onDown);
  addEventListener('pointermove', onMove);
  addEventListener('pointerup', onUp);
  region?.addEventListener('click', onTap);
}
region?.addEventListener('pointerover', (event) => drag === null && onOver(event));
region?.addEventListener('focusin', onOver);
