import { flowWords } from '../../farm/racks/words.ts';
import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import type { SlotStanding } from '../../stock/places/occupancy.ts';
import {
  CELL_HEIGHT,
  type DrawnCell,
  type Label,
  LEFT,
  type Picture,
  PLATE,
  reasonWords,
  TOP,
} from './rack-layout.rules.ts';

/** Where a slot leads. */
export type SlotHref = (slot: SlotStanding) => string | null;

const WAVES = { still: 0, low: 1, medium: 2, high: 3 } as const;
const WAVE = 10;
const WAVE_WIDTH = 3 * WAVE;
const WAVE_PAD = 5;
const JET_ROOM = 26;

/** A rack's picture in two svgs, drawn one over the other by the view `racks/sheet`. */
export interface RackDrawing {
  sheet: string;
  /** The row letters alone: they stay in sight where the sheet scrolls sideways. The sheet has them too, for paper. */
  rows: string;
}

/** A rack as it stands. It keeps its size: a rack too wide for the page scrolls in its own region. */
export function rackPicture(picture: Picture, name: string, hrefOf: SlotHref): RackDrawing {
  const { height, cellWidth } = picture;
  const fills = picture.cells.map((cell) => fillMarkup(cell, cellWidth)).join('');
  const cells = picture.cells.map((cell) => cellMarkup(cell, picture, hrefOf(cell.slot))).join('');
  const axes = picture.axes.map(labelMarkup).join('');
  const inside = `${axes}${fills}${contoursMarkup(picture)}${bordersMarkup(picture)}${cells}`;
  const letters = picture.axes.filter(({ x }) => x < LEFT).map(labelMarkup);
  return {
    sheet: sheetMarkup(
      'rack',
      picture.width,
      height,
      `role="group" aria-label="${escapeMarkup(name)}"`,
      inside,
    ),
    rows: sheetMarkup('rack rack-rows', LEFT, height, 'aria-hidden="true"', letters.join('')),
  };
}

const sheetMarkup = (
  className: string,
  width: number,
  height: number,
  said: string,
  inside: string,
): string =>
  `<svg class="${className}" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" style="--drawn: ${width}px; --high: ${height}px" ${said}>${inside}</svg>`;

function bordersMarkup({ borders }: Picture): string {
  return borders
    .map(({ x, y, x2, y2 }) => `<path class="border" d="M${px(x)} ${y}L${px(x2)} ${y2}"/>`)
    .join('');
}

/** In an svg of its own, which cuts off what runs over the rack's edge. */
function contoursMarkup({ contours, width, height, cellWidth }: Picture): string {
  const point = ([x, y]: [number, number]) => `${px(x * cellWidth)} ${px(y * CELL_HEIGHT)}`;
  const lines = contours.map(({ value, pieces }) => {
    const drawn = pieces.map(([from, to]) => `M${point(from)}L${point(to)}`).join('');
    return `<path class="contour" data-value="${value}" d="${drawn}"/>`;
  });
  if (lines.length === 0) return '';
  const [wide, high] = [width - LEFT - 1, height - TOP - 1];
  return `<svg x="${LEFT}" y="${TOP}" width="${wide}" height="${high}" viewBox="0 0 ${wide} ${high}" aria-hidden="true">${lines.join('')}</svg>`;
}

function fillMarkup({ slot, tone, x, y }: DrawnCell, width: number): string {
  const classes = ['cell', tone, slot.lot === null ? 'free' : ''].filter(Boolean).join(' ');
  return `<rect class="${classes}" x="${x}" y="${y}" width="${width}" height="${CELL_HEIGHT}"/>`;
}

function cellMarkup(cell: DrawnCell, picture: Picture, href: string | null): string {
  const { slot, x, y } = cell;
  const width = picture.cellWidth;
  const rect = `<rect class="reach" x="${x}" y="${y}" width="${width}" height="${CELL_HEIGHT}"/>`;
  const goal = cell.offered
    ? `<rect class="goal" x="${x + 3}" y="${y + 3}" width="${width - 6}" height="${CELL_HEIGHT - 6}" rx="2"/>`
    : '';
  const said = `${slotWords(slot)}${cell.offered ? ', suits' : ''}`;
  const inside = `<title>${escapeMarkup(said)}</title>${rect}${goal}${waterMarkup(cell, picture)}${lotMarkup(cell, width)}`;
  const tone = ` style="--tone: var(--rack-${cell.tone.replace('light-', '')}, var(--paper))"`;
  if (href === null) return `<g${tone}>${inside}</g>`;
  const lot = slot.lot === null ? '' : ` data-lot="${escapeMarkup(slot.lot.code)}"`;
  return `<a href="${escapeMarkup(href)}" data-slot="${slot.id}"${lot} draggable="false"${tone}>${inside}</a>`;
}

function lotMarkup({ slot, x, y, mark, labels }: DrawnCell, width: number): string {
  // The title says all of it in full; read aloud twice it would only be noise.
  const texts = `<g aria-hidden="true">${labels.map(labelMarkup).join('')}</g>`;
  if (slot.lot === null) return texts;
  const plate = `<rect class="plate" x="${x + PLATE.inset}" y="${y + PLATE.top}" width="${width - 2 * PLATE.inset}" height="${PLATE.height}" rx="2"/>`;
  return `<g class="lot${mark === '' ? '' : ` ${mark}`}">${plate}${texts}</g>`;
}

function labelMarkup({ text, x, y, size, className, anchor }: Label): string {
  const middle = anchor === 'middle' ? ' text-anchor="middle"' : '';
  return `<text class="${className}" x="${px(x)}" y="${px(y)}" style="font-size:${size}px"${middle}>${escapeMarkup(text)}</text>`;
}

/** How water moves at a slot; left out where a long name needs the room. */
function waterMarkup({ slot, x, y }: DrawnCell, { view, cellWidth }: Picture): string {
  if (view === 'kind') return '';
  const jet = jetMarkup(slot, x, y);
  const room = cellWidth - 2 * WAVE_PAD - (slot.jet ? JET_ROOM : 0);
  const width = view === 'flow' ? Math.floor(room / WAVE) * WAVE : WAVE_WIDTH;
  return wavesMarkup(slot, x + cellWidth - WAVE_PAD - width, y, width) + jet;
}

function wavesMarkup({ flow }: SlotStanding, left: number, y: number, width: number): string {
  return Array.from({ length: WAVES[flow] }, (_, i) => {
    const line = y + CELL_HEIGHT - 8 - i * 6;
    return `<path class="flow" d="M${left} ${line}q5 -5 10 0${'t10 0'.repeat(width / WAVE - 1)}"/>`;
  }).join('');
}

function jetMarkup({ jet }: SlotStanding, x: number, y: number): string {
  if (!jet) return '';
  const [left, line] = [x + 7, y + CELL_HEIGHT - 14];
  return `<path class="jet" d="M${left} ${line}h19m-6 -5l6 5l-6 5"/>`;
}

/** A slot in words: what a finger, a pointer or a screen reader is told. */
export function slotWords({ name, light, flow, jet, lot }: SlotStanding): string {
  const par =
    light === null
      ? 'light never measured'
      : `light ${numberWords(Math.round(light.par))}${light.estimated ? ', scaled' : ''}`;
  const moving = `flow ${flowWords[flow]}${jet ? ', a jet strikes it' : ''}`;
  if (lot === null) return `${name}: free, ${par}, ${moving}`;
  const reason = reasonWords(lot);
  return `${name}: ${lot.code}, ${lot.kind}, ${par}, ${moving}${reason === '' ? '' : `, ${reason}`}`;
}

/** A small rack takes about this much room, whatever its columns. */
const MINI_ROOM = 440;
const MINI_CELL = 24;

/** A rack small: light as tone, a filled square where a lot stands, heavier where something is open about it. */
export function rackMiniature(
  cells: readonly { row: number; column: number; tone: string; taken: boolean; mark: string }[],
  { rows, columns }: { rows: number; columns: number },
): string {
  const side = Math.min(MINI_CELL, Math.floor(MINI_ROOM / columns));
  const dotSide = px(side * 0.45);
  const drawn = cells.map(({ row, column, tone, taken, mark }) => {
    const [x, y] = [(column - 1) * side, (row - 1) * side];
    const cell = `<rect class="cell ${tone}" x="${x}" y="${y}" width="${side}" height="${side}"/>`;
    const inset = (side - dotSide) / 2;
    const dot = `<rect class="dot ${mark}" x="${px(x + inset)}" y="${px(y + inset)}" width="${dotSide}" height="${dotSide}"/>`;
    return taken ? cell + dot : cell;
  });
  const [width, height] = [columns * side, rows * side];
  return `<svg class="rack mini" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" style="--drawn: ${width}px" aria-hidden="true">${drawn.join('')}</svg>`;
}
