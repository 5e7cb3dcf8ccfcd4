import { escapeMarkup } from '../../platform/charts/markup.ts';
import { type FloorBox, reach } from './floor.rules.ts';

/** A tank on the drawing that places tanks. */
export interface FloorTank extends FloorBox {
  id: string;
  name: string;
  /** False for one that nobody placed yet: drawn dashed. */
  placed: boolean;
}

/** Smallest floor that is drawn, and the room left to the right and in front for dragging, cm. */
const LEAST = { widthCm: 600, depthCm: 400 };
const SPARE_CM = 150;

/** The floor with its tanks, in cm, for placing them by dragging or by the arrow keys; `cmPerUnit` of the form's numbers. */
export function drawFloor(tanks: readonly FloorTank[], cmPerUnit: number): string {
  const { widthCm, depthCm } = reach(tanks);
  const width = Math.max(LEAST.widthCm, widthCm + SPARE_CM);
  const depth = Math.max(LEAST.depthCm, depthCm + SPARE_CM);
  const size = Math.round(width / 48);
  const boxes = tanks.map((tank) => {
    const label = `${tank.name}${tank.placed ? '' : ', not placed yet'}. Arrow keys move it.`;
    const box = `<rect width="${tank.widthCm}" height="${tank.depthCm}"/>`;
    const name = `<text x="0.4em" y="1.2em" aria-hidden="true">${escapeMarkup(tank.name)}</text>`;
    return `<g class="floor-tank${tank.placed ? '' : ' unplaced'}" data-tank="${tank.id}" role="button" aria-label="${escapeMarkup(label)}" transform="translate(${tank.leftCm} ${tank.backCm})">${box}<svg width="${tank.widthCm}" height="${tank.depthCm}">${name}</svg></g>`;
  });
  return `<svg class="floor" viewBox="0 0 ${width} ${depth}" preserveAspectRatio="xMinYMin" font-size="${size}" data-floor data-cm-per-unit="${cmPerUnit}" role="group" aria-label="The room from above, the back at the top">${metres(2 * width, 2 * depth)}${boxes.join('')}</svg>`;
}

/** A line each metre, past the end of the floor that is drawn: the page may have room for more. */
function metres(width: number, depth: number): string {
  const lines = (end: number, line: (at: number) => string) =>
    Array.from({ length: Math.ceil(end / 100) - 1 }, (_, i) => line((i + 1) * 100)).join('');
  return `<path class="metre" d="${lines(width, (x) => `M${x} 0V${depth}`)}${lines(depth, (y) => `M0 ${y}H${width}`)}"/>`;
}
