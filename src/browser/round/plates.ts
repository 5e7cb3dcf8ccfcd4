const kept = 'evenwater-round-view';
const views = ['rack', 'list'] as const;
type View = (typeof views)[number];

/** How the lots of a rack are shown, and by which plate the keys go on. Chosen once, it stays so on this tablet. */
export function followPlates(): void {
  show(chosen());
  document.addEventListener('click', (event) => {
    const target = event.target as Element;
    const view = target.closest<HTMLElement>('[data-view]');
    if (view !== null) {
      event.preventDefault();
      keep(view.dataset.view as View);
      show(view.dataset.view as View);
    }
    const part = target.closest<HTMLElement>('[data-part]')?.dataset.part;
    if (part !== undefined) showPart(part);
  });
  document.addEventListener('keydown', go);
  document.addEventListener('error', (event) => drawInstead(event.target), true);
}

/** What the screen says of the chosen view, and the one plate that Tab reaches: on every screen drawn anew. */
export function setPlates(): void {
  const view = chosen();
  for (const link of document.querySelectorAll<HTMLElement>('[data-view]')) {
    if (link.dataset.view === view) link.setAttribute('aria-current', 'true');
    else link.removeAttribute('aria-current');
  }
  const plates = [...document.querySelectorAll<HTMLElement>('[data-plate][data-first]')];
  if (!plates.some(({ tabIndex }) => tabIndex === 0)) plates[0]?.setAttribute('tabindex', '0');
}

function chosen(): View {
  try {
    return views.find((view) => view === localStorage.getItem(kept)) ?? 'rack';
  } catch {
    return 'rack';
  }
}

function keep(view: View): void {
  try {
    localStorage.setItem(kept, view);
  } catch {
    // A browser that keeps nothing shows the rack again the next time.
  }
}

function show(view: View): void {
  document.documentElement.dataset.roundView = view;
  setPlates();
}

function showPart(part: string): void {
  document.querySelector('.plates')?.setAttribute('data-part-shown', part);
  for (const button of document.querySelectorAll<HTMLElement>('[data-part]'))
    button.setAttribute('aria-pressed', String(button.dataset.part === part));
}

const steps: Readonly<Record<string, [number, number]>> = {
  ArrowRight: [0, 1],
  ArrowLeft: [0, -1],
  ArrowDown: [1, 0],
  ArrowUp: [-1, 0],
};

/** Arrows go to the next plate that way, past free slots; Home and End to the first and last of the rack. */
function go(event: KeyboardEvent): void {
  const plate = (event.target as Element).closest<HTMLElement>('[data-plate]');
  const grid = plate?.closest('.plates');
  if (!plate || !grid) return;
  const rows = [...grid.querySelectorAll('.plate-row:not(.plate-columns)')].map((row) => [
    ...row.querySelectorAll('.plate-cell'),
  ]);
  const all = [...grid.querySelectorAll<HTMLElement>('[data-plate][data-first]')];
  const step = steps[event.key];
  const to =
    event.key === 'Home'
      ? all[0]
      : event.key === 'End'
        ? all.at(-1)
        : step === undefined
          ? undefined
          : nextPlate(rows, plate, step);
  if (event.key !== 'Home' && event.key !== 'End' && step === undefined) return;
  event.preventDefault();
  if (to === undefined) return;
  for (const one of all) one.tabIndex = -1;
  to.tabIndex = 0;
  const part = /part-(\d)/.exec(to.closest('.plate-cell')?.className ?? '')?.[1];
  if (part !== undefined && to.offsetParent === null) showPart(part);
  to.focus();
}

/** The next plate in a direction: the nearest in that column or row, else the nearest to it in the rows that way. */
function nextPlate(
  rows: Element[][],
  plate: HTMLElement,
  [down, right]: [number, number],
): HTMLElement | undefined {
  const cell = plate.closest('.plate-cell');
  const row = rows.findIndex((cells) => cell !== null && cells.includes(cell));
  const column = rows[row]?.indexOf(cell as Element) ?? -1;
  const plateAt = (r: number, c: number) =>
    rows[r]?.[c]?.querySelector<HTMLElement>('[data-plate][data-first]') ?? undefined;
  if (down === 0) {
    for (let c = column + right; c >= 0 && c < (rows[row]?.length ?? 0); c += right)
      if (plateAt(row, c)) return plateAt(row, c);
    return undefined;
  }
  for (let r = row + down; r >= 0 && r < rows.length; r += down) {
    const there = (rows[r] ?? []).flatMap((_, c) => (plateAt(r, c) ? [c] : []));
    const [nearest] = there.sort((a, b) => Math.abs(a - column) - Math.abs(b - column));
    if (nearest !== undefined) return plateAt(r, nearest);
  }
  return undefined;
}

/** A photo that the tablet does not have is drawn as the shape its kind grows in. */
function drawInstead(target: EventTarget | null): void {
  if (!(target instanceof HTMLImageElement) || target.dataset.form === undefined) return;
  const name = 'http://www.w3.org/2000/svg';
  const drawing = document.createElementNS(name, 'svg');
  drawing.setAttribute('viewBox', '0 0 100 100');
  drawing.setAttribute('aria-hidden', 'true');
  const use = document.createElementNS(name, 'use');
  use.setAttribute('href', `/assets/growth-forms.svg#${target.dataset.form}`);
  drawing.append(use);
  target.replaceWith(drawing);
}
