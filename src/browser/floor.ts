// Placing the tanks of a room: by dragging, or by the arrow keys on the one that has the focus. The numbers of the form follow, and the
// form saves them. Without this script the numbers alone place a tank.

/** A drag goes in steps of this, as one press of an arrow key does; with Shift it is ten times as far. cm */
const STEP_CM = 5;

const floor = document.querySelector<SVGSVGElement>('[data-floor]');
const cmPerUnit = Number(floor?.dataset.cmPerUnit ?? 1);

const field = (name: string, tank: SVGGElement): HTMLInputElement | null =>
  document.querySelector<HTMLInputElement>(`[name="${name}_${tank.dataset.tank}"]`);

const snapped = (cm: number): number => Math.max(0, Math.round(cm / STEP_CM) * STEP_CM);

function placeOf(tank: SVGGElement): { left: number; back: number } {
  const { e, f } = tank.transform.baseVal.consolidate()?.matrix ?? { e: 0, f: 0 };
  return { left: e, back: f };
}

function draw(tank: SVGGElement, left: number, back: number): void {
  tank.setAttribute('transform', `translate(${left} ${back})`);
}

/** Puts a tank at a place and says so in the form. */
function put(tank: SVGGElement, left: number, back: number): void {
  draw(tank, left, back);
  tank.classList.remove('unplaced');
  const write = (input: HTMLInputElement | null, cm: number) => {
    if (input !== null) input.value = String(Math.round((cm / cmPerUnit) * 10) / 10);
  };
  write(field('left', tank), left);
  write(field('back', tank), back);
  grow();
}

/** Makes the floor larger where a tank comes near its end. */
function grow(): void {
  if (floor === null) return;
  const { width, height } = floor.viewBox.baseVal;
  const reach = (of: 'width' | 'height', at: 'left' | 'back') =>
    Math.max(
      ...tanks.map((tank) => placeOf(tank)[at] + (tank.querySelector('rect')?.[of].baseVal.value ?? 0)),
    );
  const [wide, deep] = [
    Math.max(width, reach('width', 'left') + 50),
    Math.max(height, reach('height', 'back') + 50),
  ];
  if (wide > width || deep > height) floor.setAttribute('viewBox', `0 0 ${wide} ${deep}`);
}

/** Draws a tank as its numbers say; one without numbers stays where it is drawn. */
function follow(tank: SVGGElement): void {
  const [left, back] = [field('left', tank)?.value ?? '', field('back', tank)?.value ?? ''];
  const [x, y] = [left, back].map((typed) => Number(typed.replace(',', '.')) * cmPerUnit);
  tank.classList.toggle('unplaced', left === '' || back === '');
  if (left !== '' && back !== '' && Number.isFinite(x) && Number.isFinite(y)) draw(tank, x ?? 0, y ?? 0);
}

/** Turns the box of a tank as its tick says. */
function turn(tank: SVGGElement): void {
  const box = tank.querySelector('rect');
  const inner = tank.querySelector('svg');
  for (const one of [box, inner]) {
    const [width, height] = [one?.getAttribute('width') ?? '', one?.getAttribute('height') ?? ''];
    one?.setAttribute('width', height);
    one?.setAttribute('height', width);
  }
}

const tanks = [...(floor?.querySelectorAll<SVGGElement>('[data-tank]') ?? [])];

for (const tank of tanks) {
  tank.setAttribute('tabindex', '0');
  follow(tank);
  for (const name of ['left', 'back'])
    field(name, tank)?.addEventListener('input', () => {
      follow(tank);
      grow();
    });
  field('turned', tank)?.addEventListener('change', () => turn(tank));
}

const arrows: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

floor?.addEventListener('keydown', (event) => {
  const tank = (event.target as Element).closest<SVGGElement>('[data-tank]');
  const arrow = arrows[event.key];
  if (tank === null || arrow === undefined) return;
  event.preventDefault();
  const { left, back } = placeOf(tank);
  const far = STEP_CM * (event.shiftKey ? 10 : 1);
  put(tank, snapped(left + arrow[0] * far), snapped(back + arrow[1] * far));
});

/** The tank that is dragged, and where in it the pointer holds it, cm. */
let held: { tank: SVGGElement; x: number; y: number } | null = null;

/** Where a pointer is on the floor, cm. */
function onFloor(event: PointerEvent): DOMPoint {
  return new DOMPoint(event.clientX, event.clientY).matrixTransform(floor?.getScreenCTM()?.inverse());
}

floor?.addEventListener('pointerdown', (event) => {
  const tank = (event.target as Element).closest<SVGGElement>('[data-tank]');
  if (tank === null || event.button !== 0) return;
  const { left, back } = placeOf(tank);
  const { x, y } = onFloor(event);
  held = { tank, x: x - left, y: y - back };
  floor.setPointerCapture(event.pointerId);
  tank.focus({ preventScroll: true });
  event.preventDefault();
});
floor?.addEventListener('pointermove', (event) => {
  if (held === null) return;
  const { x, y } = onFloor(event);
  put(held.tank, snapped(x - held.x), snapped(y - held.y));
});
for (const end of ['pointerup', 'pointercancel'] as const) floor?.addEventListener(end, () => (held = null));
