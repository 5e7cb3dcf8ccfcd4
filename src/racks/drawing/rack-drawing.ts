import { flowText } from '../../farm/racks/words.ts';
import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import type { SlotOccupancy } from '../../stock/places/occupancy.ts';
import { type Box, besideBoxes } from './line-breaks.rules.ts';
import { openAlertWords } from './lot-words.rules.ts';
import { AXIS_LEFT, AXIS_TOP, CELL_HEIGHT, PLATE } from './measures.ts';
import type { RackLayout, SlotLayout } from './rack-layout.rules.ts';
import type { TextLabel } from './slot-labels.rules.ts';
import { textWidth } from './text-fit.rules.ts';

/** The address a slot links to, or null. */
export type SlotHref = (slot: SlotOccupancy) => string | null;

/** Wave lines for each flow class. */
const WAVES = { still: 0, low: 1, medium: 2, high: 3 } as const;
/** Length of one wave, of the waves beside a figure, the margin at their end and the room a jet's arrow takes, px. */
const WAVE = 10;
const WAVE_WIDTH = 3 * WAVE;
const WAVE_PAD = 5;
const JET_ROOM = 26;

/** The drawing of a rack as two SVGs, which the view `racks/sheet` lays one over the other. */
export interface RackDrawing {
  sheet: string;
  /** The row letters alone: they stay in sight where the sheet scrolls sideways. The sheet has them too, for printing. */
  rows: string;
}

/** Draws a rack. The drawing is never scaled down: one too wide for the page scrolls in its own region. */
export function drawRack(layout: RackLayout, name: string, hrefOf: SlotHref): RackDrawing {
  const { height, cellWidth } = layout;
  const fills = layout.cells.map((cell) => fillMarkup(cell, cellWidth)).join('');
  const cells = layout.cells.map((cell) => cellMarkup(cell, layout, hrefOf(cell.slot))).join('');
  const axes = layout.axes.map(labelMarkup).join('');
  const inside = `${axes}${fills}${contoursMarkup(layout)}${bordersMarkup(layout)}${cells}`;
  const letters = layout.axes.filter(({ x }) => x < AXIS_LEFT).map(labelMarkup);
  return {
    sheet: sheetMarkup(
      'rack',
      layout.width,
      height,
      `role="group" aria-label="${escapeMarkup(name)}"`,
      inside,
    ),
    rows: sheetMarkup('rack rack-rows', AXIS_LEFT, height, 'aria-hidden="true"', letters.join('')),
  };
}

const sheetMarkup = (
  className: string,
  width: number,
  height: number,
  attributes: string,
  inside: string,
): string =>
  `<svg class="${className}" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" ${attributes}>${inside}</svg>`;

function bordersMarkup({ borders }: RackLayout): string {
  return borders
    .map(({ x, y, x2, y2 }) => `<path class="border" d="M${px(x)} ${y}L${px(x2)} ${y2}"/>`)
    .join('');
}

/** In an SVG of its own, which cuts off what runs past the rack's edge. */
function contoursMarkup(layout: RackLayout): string {
  const { contours, width, height, cellWidth } = layout;
  const point = ([x, y]: [number, number]) => `${px(x)} ${px(y)}`;
  const placed = ([x, y]: [number, number]): [number, number] => [x * cellWidth, y * CELL_HEIGHT];
  const boxes = layout.cells.flatMap((cell) => boxesOf(cell, layout));
  const lines = contours.map(({ value, segments }) => {
    const pieces = besideBoxes(
      segments.map(([from, to]) => [placed(from), placed(to)]),
      boxes,
    );
    const drawn = pieces.map(([from, to]) => `M${point(from)}L${point(to)}`).join('');
    return `<path class="contour" data-value="${value}" d="${drawn}"/>`;
  });
  if (lines.length === 0) return '';
  const [wide, high] = [width - AXIS_LEFT - 1, height - AXIS_TOP - 1];
  return `<svg x="${AXIS_LEFT}" y="${AXIS_TOP}" width="${wide}" height="${high}" viewBox="0 0 ${wide} ${high}" aria-hidden="true">${lines.join('')}</svg>`;
}

/** Room around a figure that lines keep clear of, px. */
const CLEAR = 3;

/** What lines of equal light are broken at in a slot: its texts, the plate of its lot, its waves and its jet; px from the rack's corner. */
function boxesOf(cell: SlotLayout, layout: RackLayout): Box[] {
  const [x, y] = [cell.x - AXIS_LEFT, cell.y - AXIS_TOP];
  const foot = y + CELL_HEIGHT;
  const texts = cell.labels.map(({ text, x: at, y: base, size, anchor, narrowedTo }): Box => {
    const width = narrowedTo ?? textWidth(text, size);
    const left = at - AXIS_LEFT - (anchor === 'middle' ? width / 2 : 0);
    const line = base - AXIS_TOP;
    return {
      ...{ left: left - CLEAR, right: left + width + CLEAR },
      ...{ top: line - 0.8 * size - CLEAR, bottom: line + 0.25 * size + CLEAR },
    };
  });
  const plate: Box = {
    ...{ left: x + PLATE.inset, right: x + layout.cellWidth - PLATE.inset },
    ...{ top: y + PLATE.top, bottom: y + PLATE.top + PLATE.height },
  };
  const count = cell.slot.flow === null ? 0 : WAVES[cell.slot.flow];
  const right = x + layout.cellWidth - WAVE_PAD + CLEAR;
  const waves: Box = {
    left: right - WAVE_WIDTH - 2 * CLEAR,
    right,
    top: foot - 8 - 6 * count,
    bottom: foot - 3,
  };
  const jet: Box = { left: x + 4, right: x + JET_ROOM + 3, top: foot - 22, bottom: foot - 6 };
  return [
    ...texts,
    ...(cell.slot.lot === null ? [] : [plate]),
    ...(count === 0 ? [] : [waves]),
    ...(cell.slot.jet ? [jet] : []),
  ];
}

function fillMarkup({ slot, tone, x, y }: SlotLayout, width: number): string {
  const classes = ['cell', tone, slot.lot === null ? 'free' : ''].filter(Boolean).join(' ');
  return `<rect class="${classes}" x="${x}" y="${y}" width="${width}" height="${CELL_HEIGHT}"/>`;
}

function cellMarkup(cell: SlotLayout, layout: RackLayout, href: string | null): string {
  const { slot, x, y } = cell;
  const width = layout.cellWidth;
  const rect = `<rect class="reach" x="${x}" y="${y}" width="${width}" height="${CELL_HEIGHT}"/>`;
  const goal = cell.suitable
    ? `<rect class="goal" x="${x + 3}" y="${y + 3}" width="${width - 6}" height="${CELL_HEIGHT - 6}" rx="2"/>`
    : '';
  const words = `${slotTitle(slot)}${cell.suitable ? ', suits' : ''}`;
  const inside = `<title>${escapeMarkup(words)}</title>${rect}${goal}${waterMarkup(cell, layout)}${lotMarkup(cell, width)}`;
  const tone = ` class="on-${cell.tone.replace('light-', '')}"`;
  if (href === null) return `<g${tone}>${inside}</g>`;
  const lot = slot.lot === null ? '' : ` data-lot="${escapeMarkup(slot.lot.code)}"`;
  return `<a href="${escapeMarkup(href)}" data-slot="${slot.id}"${lot} draggable="false"${tone}>${inside}</a>`;
}

function lotMarkup({ slot, x, y, severity, labels }: SlotLayout, width: number): string {
  // The title has all of it in full; a screen reader should not read it twice.
  const texts = `<g aria-hidden="true">${labels.map(labelMarkup).join('')}</g>`;
  if (slot.lot === null) return texts;
  const plate = `<rect class="plate" x="${x + PLATE.inset}" y="${y + PLATE.top}" width="${width - 2 * PLATE.inset}" height="${PLATE.height}" rx="2"/>`;
  return `<g class="lot${severity === '' ? '' : ` ${severity}`}">${plate}${texts}</g>`;
}

function labelMarkup({ text, x, y, size, className, anchor, narrowedTo }: TextLabel): string {
  const narrow =
    narrowedTo === undefined ? '' : ` textLength="${px(narrowedTo)}" lengthAdjust="spacingAndGlyphs"`;
  const middle = anchor === 'middle' ? ' text-anchor="middle"' : '';
  return `<text class="${className}" x="${px(x)}" y="${px(y)}" font-size="${size}"${middle}${narrow}>${escapeMarkup(text)}</text>`;
}

/** Wave lines for the flow at a slot and an arrow for a jet; left out where the kind's name needs the room. */
function waterMarkup({ slot, x, y }: SlotLayout, { view, cellWidth }: RackLayout): string {
  if (view === 'kind') return '';
  const jet = jetMarkup(slot, x, y);
  const room = cellWidth - 2 * WAVE_PAD - (slot.jet ? JET_ROOM : 0);
  const width = view === 'flow' ? Math.floor(room / WAVE) * WAVE : WAVE_WIDTH;
  return wavesMarkup(slot, x + cellWidth - WAVE_PAD - width, y, width) + jet;
}

function wavesMarkup({ flow }: SlotOccupancy, left: number, y: number, width: number): string {
  return Array.from({ length: flow === null ? 0 : WAVES[flow] }, (_, i) => {
    const line = y + CELL_HEIGHT - 8 - i * 6;
    return `<path class="flow" d="M${left} ${line}q5 -5 10 0${'t10 0'.repeat(width / WAVE - 1)}"/>`;
  }).join('');
}

function jetMarkup({ jet }: SlotOccupancy, x: number, y: number): string {
  if (!jet) return '';
  const [left, line] = [x + 7, y + CELL_HEIGHT - 14];
  return `<path class="jet" d="M${left} ${line}h19m-6 -5l6 5l-6 5"/>`;
}

/** A slot in words, for its tooltip and for screen readers. */
export function slotTitle({ name, light, flow, jet, lot }: SlotOccupancy): string {
  const par =
    light === null
      ? 'light never measured'
      : `light ${numberWords(Math.round(light.par))}${light.estimated ? ', scaled' : ''}`;
  const water = `flow ${flowText(flow)}${jet ? ', a jet strikes it' : ''}`;
  if (lot === null) return `${name}: free, ${par}, ${water}`;
  const alert = openAlertWords(lot);
  return `${name}: ${lot.ownCode === '' ? '' : `${lot.ownCode}, `}${lot.code}, ${lot.kind}, ${par}, ${water}${alert === '' ? '' : `, ${alert}`}`;
}
