import { extent, ticks } from 'd3-array';
import { rowLetter } from '../../farm/racks/slots.rules.ts';
import type { Severity } from '../../generated/prisma/enums.ts';
import { calledBy } from '../../stock/base/codes.ts';
import type { SlotOccupancy } from '../../stock/places/occupancy.ts';
import { type Contour, contourLines } from './contours.rules.ts';
import { lightTone } from './light-tones.rules.ts';
import { AXIS_LEFT, AXIS_TOP, CELL_HEIGHT, CODE_SIZES, FIGURE_SIZE, PLATE, SQUEEZE } from './measures.ts';
import type { RackView } from './rack-views.ts';
import { type LabelOptions, slotLabels, type TextLabel } from './slot-labels.rules.ts';
import { textWidth } from './text-fit.rules.ts';

/** One slot of the drawing with everything placed, px. */
export interface SlotLayout {
  slot: SlotOccupancy;
  x: number;
  y: number;
  tone: string;
  /** Severity of the open alert about the lot, or '' */
  severity: Severity | '';
  labels: TextLabel[];
  /** A free slot that suits the lot to be moved. */
  suitable: boolean;
}

/** The drawing of a rack with everything placed, px. */
export interface RackLayout {
  view: RackView;
  width: number;
  height: number;
  cellWidth: number;
  cells: SlotLayout[];
  axes: TextLabel[];
  contours: Contour[];
  /** Lines between slots of different kinds, from x, y to x2, y2. */
  borders: { x: number; y: number; x2: number; y2: number }[];
}

/** Narrowest and widest a slot is drawn: room for a code, and no wider than its texts need. */
const NARROWEST = 58;
const WIDEST = 118;
/** Width that the page of a tablet of 1024 px gives a rack beside its scroll bar; a desk gives more. */
const PAGE_WIDTH = 960;

interface CellSize {
  cellWidth: number;
  codeSize: number;
}

/** As wide as the page allows, but never so narrow that a code would be cut off: people know lots by their codes. */
function cellSize(slots: readonly SlotOccupancy[], columns: number): CellSize {
  const equalShare = Math.min(Math.max(Math.floor((PAGE_WIDTH - AXIS_LEFT) / columns), NARROWEST), WIDEST);
  // A short code is never cut off; a long own code may be, and is in full in the slot's title.
  const widest = Math.max(
    0,
    ...slots.map(({ lot }) => (lot === null ? 0 : textWidth(calledBy(lot).slice(0, 8), 1))),
  );
  const needed = (size: number) => Math.ceil(widest * size + 2 * (PLATE.inset + PLATE.padding));
  const codeSize = CODE_SIZES.find((size) => needed(size) <= equalShare) ?? Math.min(...CODE_SIZES);
  return { cellWidth: Math.max(equalShare, needed(codeSize * SQUEEZE)), codeSize };
}

export interface LayoutOptions extends LabelOptions {
  rows: number;
  columns: number;
  /** Ids of free slots that suit the lot to be moved. */
  suitable?: ReadonlySet<string>;
  /** What stands at the edge, counted from 0; numbers across and letters down unless said. */
  across?: (i: number) => string;
  down?: (i: number) => string;
}

/** Places everything in the drawing of a rack; texts are shortened to their room and never overlap. */
export function layOutRack(slots: readonly SlotOccupancy[], options: LayoutOptions): RackLayout {
  const { cellWidth, codeSize } = cellSize(slots, options.columns);
  const cells = slots.map((slot): SlotLayout => {
    const [x, y] = [AXIS_LEFT + (slot.column - 1) * cellWidth, AXIS_TOP + (slot.row - 1) * CELL_HEIGHT];
    return {
      slot,
      x,
      y,
      tone: showsLight(options.view) ? lightTone(slot.light?.par ?? null) : 'plain',
      severity: slot.lot?.alert?.severity ?? '',
      labels: slotLabels(slot, options, { x, y, width: cellWidth, codeSize }),
      suitable: options.suitable?.has(slot.id) ?? false,
    };
  });
  return {
    view: options.view,
    width: AXIS_LEFT + options.columns * cellWidth + 1,
    height: AXIS_TOP + options.rows * CELL_HEIGHT + 1,
    cellWidth,
    cells,
    axes: axesOf(options, cellWidth),
    contours: contoursOf(slots, options),
    borders: options.view === 'kind' ? bordersOf(slots, options, cellWidth) : [],
  };
}

const showsLight = (view: RackView): boolean => view === 'light' || view === 'daily';

/** About how many lines of equal light a rack gets (own choice: more would hide the figures). */
const CONTOURS = 5;

/** Lines of equal light at round numbers of this rack's own range: tones compare racks, lines show the shape of one rack. */
function contoursOf(slots: readonly SlotOccupancy[], options: LayoutOptions): Contour[] {
  if (!showsLight(options.view)) return [];
  const lightOf = ({ light }: SlotOccupancy) => (options.view === 'light' ? light?.par : light?.dli) ?? null;
  const [low, high] = extent(slots, lightOf);
  if (low === undefined || high === undefined) return [];
  return contourLines(slots, { ...options, lightOf }, ticks(low, high, CONTOURS));
}

/** Where one kind ends and another (or nothing) begins. */
function bordersOf(slots: readonly SlotOccupancy[], { rows, columns }: LayoutOptions, width: number) {
  const kinds = new Map(slots.map(({ row, column, lot }) => [`${row} ${column}`, lot?.kind ?? '']));
  const differs = (row: number, column: number, row2: number, column2: number) =>
    row2 <= rows && column2 <= columns && kinds.get(`${row} ${column}`) !== kinds.get(`${row2} ${column2}`);
  return slots.flatMap(({ row, column }) => {
    const [right, bottom] = [AXIS_LEFT + column * width, AXIS_TOP + row * CELL_HEIGHT];
    const beside = { x: right, y: bottom - CELL_HEIGHT, x2: right, y2: bottom };
    const beneath = { x: right - width, y: bottom, x2: right, y2: bottom };
    return [
      ...(differs(row, column, row, column + 1) ? [beside] : []),
      ...(differs(row, column, row + 1, column) ? [beneath] : []),
    ];
  });
}

function axesOf(options: LayoutOptions, cellWidth: number): TextLabel[] {
  const { rows, columns, across: top = (i) => String(i + 1), down: side = (i) => rowLetter(i + 1) } = options;
  const label = (text: string, x: number, y: number): TextLabel => ({
    text,
    x,
    y,
    size: FIGURE_SIZE,
    className: 'axis-label',
    anchor: 'middle',
  });
  const across = (i: number) => label(top(i), AXIS_LEFT + (i + 0.5) * cellWidth, AXIS_TOP - 8);
  const down = (i: number) => label(side(i), AXIS_LEFT / 2, AXIS_TOP + (i + 0.5) * CELL_HEIGHT + 4);
  return [
    ...Array.from({ length: columns }, (_, i) => across(i)),
    ...Array.from({ length: rows }, (_, i) => down(i)),
  ];
}
