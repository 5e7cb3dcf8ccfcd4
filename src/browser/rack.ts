// A rack under a finger or a mouse: larger and smaller, and moving a lot (tap it, tap a slot; or drag it) with an answer
// what the move means before anything is done. The move itself is confirmed on its own page, as without this.

interface Meaning {
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
const said = document.querySelector<HTMLElement>('[data-move-said]');
const tools = document.querySelector<HTMLElement>('[data-rack-tools]');
const known = new Map<string, Promise<Meaning | string>>();

let zoom = 0;
/** The lot that is being moved. */
let moving = region?.dataset.movingLot ?? null;
let tapping = false;
let asked = '';

function resize(step: number): void {
  zoom = Math.min(4, Math.max(-3, zoom + step));
  for (const svg of sheets) svg.style.setProperty('--zoom', String(1.25 ** zoom));
}

async function ask(lot: string, slot: string): Promise<Meaning | string> {
  const query = new URLSearchParams({ lot, slot });
  const answer = await fetch(`/api/moves/meaning?${query}`, { headers: { accept: 'application/json' } });
  const body = await answer.json();
  return answer.ok ? body : (body.detail ?? 'That cannot be told now.');
}

/** Asked once for a lot and a slot; again where no answer came, or none that tells the meaning. */
async function meaningOf(lot: string, slot: string): Promise<Meaning | string> {
  const key = `${lot} ${slot}`;
  const asking = known.get(key) ?? ask(lot, slot).catch(() => 'No answer: is the network there?');
  known.set(key, asking);
  const answer = await asking;
  if (typeof answer === 'string') known.delete(key);
  return answer;
}

const moveAddress = (lot: string, slot: string): string =>
  `/racks/move?${new URLSearchParams({ lot, slot })}`;

const stepsAddress = (lot: string, slot: string): string =>
  `/stock/acclimations/new?${new URLSearchParams({ lot, slot, show: 'yes' })}`;

function say(...parts: (string | Node)[]): void {
  if (said === null) return;
  said.hidden = parts.length === 0;
  said.replaceChildren(...parts);
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

/** The first of those beside it; the page that confirms the move has them all. */
const NAMED = 2;

function besideWords(neighbours: readonly string[]): string {
  const more = neighbours.length - NAMED;
  return `Beside it: ${neighbours.slice(0, NAMED).join('; ')}${more > 0 ? `; and ${more} more` : ''}.`;
}

/** Says what the move means; `offer`: with the way to make it. */
async function tell(lot: string, slot: string, offer: boolean): Promise<void> {
  if (asked === `${lot} ${slot}` && !offer) return;
  asked = `${lot} ${slot}`;
  said?.setAttribute('aria-busy', 'true');
  const answer = await meaningOf(lot, slot);
  if (asked !== `${lot} ${slot}`) return;
  said?.removeAttribute('aria-busy');
  if (typeof answer === 'string') return say(answer);
  if (answer.taken !== null) return say(`${answer.to}: there stands ${answer.taken}. Choose a free slot.`);
  const beside = answer.neighbours.length === 0 ? [] : [besideWords(answer.neighbours)];
  const risks = answer.risks.length === 0 ? [] : [strong(answer.risks.join(' ')), ' '];
  const plain = [...answer.statements, ...beside].join(' ');
  const go = offer ? [' ', link(`Move to ${answer.to}`, moveAddress(lot, slot))] : [];
  if (offer && answer.inSteps) go.unshift(' ', link('Go there in steps', stepsAddress(lot, slot)));
  say(strong(`${answer.lot} to ${answer.to}. `), ...risks, plain, ...go);
}

function choose(lot: string | null): void {
  moving = lot;
  for (const cell of region?.querySelectorAll<SVGAElement>('a[data-lot]') ?? [])
    cell.querySelector('.lot')?.classList.toggle('chosen', lot !== null && cell.dataset.lot === lot);
}

const cellAt = (target: EventTarget | null): SVGAElement | null =>
  target instanceof Element ? target.closest<SVGAElement>('a[data-slot]') : null;

function onTap(event: MouseEvent): void {
  const cell = cellAt(event.target);
  if (cell === null || !tapping || cell.dataset.slot === undefined) return;
  event.preventDefault();
  if (cell.dataset.lot !== undefined) {
    choose(cell.dataset.lot);
    say(`${cell.dataset.lot} is chosen. Tap the slot it goes to.`);
  } else if (moving !== null) void tell(moving, cell.dataset.slot, true);
  else say('Tap a lot first.');
}

function onOver(event: Event): void {
  const cell = cellAt(event.target);
  if (cell?.dataset.slot !== undefined && cell.dataset.lot === undefined && moving !== null)
    void tell(moving, cell.dataset.slot, tapping);
}

let dragged: { lot: string; x: number; y: number; under: boolean } | null = null;
/** Further than this it is a drag and no click. */
const FAR = 8;

function onDown(event: PointerEvent): void {
  const cell = cellAt(event.target);
  if (event.pointerType !== 'mouse' || event.button !== 0 || cell?.dataset.lot === undefined) return;
  dragged = { lot: cell.dataset.lot, x: event.clientX, y: event.clientY, under: false };
}

function onMove(event: PointerEvent): void {
  if (dragged === null) return;
  if (!dragged.under && Math.hypot(event.clientX - dragged.x, event.clientY - dragged.y) < FAR) return;
  if (!dragged.under) {
    dragged.under = true;
    choose(dragged.lot);
    region?.classList.add('dragging');
  }
  onOver(event);
}

function onUp(event: PointerEvent): void {
  const drag = dragged;
  dragged = null;
  region?.classList.remove('dragging');
  if (drag === null || !drag.under) return;
  // The click that follows a drag is not a tap on the lot.
  addEventListener('click', (click) => click.preventDefault(), { capture: true, once: true });
  const cell = cellAt(document.elementFromPoint(event.clientX, event.clientY));
  if (cell?.dataset.slot !== undefined && cell.dataset.lot === undefined)
    location.assign(moveAddress(drag.lot, cell.dataset.slot));
  else if (!tapping) {
    choose(null);
    say();
  }
}

if (tools !== null) {
  tools.hidden = false;
  for (const button of tools.querySelectorAll<HTMLButtonElement>('[data-zoom]'))
    button.addEventListener('click', () => resize(Number(button.dataset.zoom)));
  const toggle = tools.querySelector<HTMLButtonElement>('[data-moving]');
  toggle?.addEventListener('click', () => {
    tapping = !tapping;
    toggle.setAttribute('aria-pressed', String(tapping));
    choose(null);
    if (tapping) say('Tap the lot to be moved.');
    else say();
  });
  region?.addEventListener('pointerdown', onDown);
  addEventListener('pointermove', onMove);
  addEventListener('pointerup', onUp);
  region?.addEventListener('click', onTap);
}
region?.addEventListener('pointerover', (event) => dragged === null && onOver(event));
region?.addEventListener('focusin', onOver);
