import { extent, ticks } from 'd3-array';
import { rowLetter } from '../../farm/racks/slots.rules.ts';
import { baseWords, flowWords, lookWords } from '../../farm/racks/words.ts';
import type { Severity } from '../../generated/prisma/enums.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import type { SlotStanding, StandingLot } from '../../stock/places/occupancy.ts';
import { type Contour, contourLines } from './contours.rules.ts';
import { fitted, inTwoLines, shortKind, textWidth } from './text-fit.rules.ts';

/** Which of a slot's sides the picture tells. */
export const rackViews = ['light', 'daily', 'flow', 'condition', 'age', 'kind'] as const;
export type RackView = (typeof rackViews)[number];

/** A text in the picture; `anchor` as in svg. */
export interface Label {
  text: string;
  x: number;
  y: number;
  size: number;
  className: string;
  anchor: 'start' | 'middle';
}

/** One slot in the picture, with everything placed. */
export interface DrawnCell {
  slot: SlotStanding;
  x: number;
  y: number;
  tone: string;
  /** Severity of what is open about the lot, or '' */
  mark: Severity | '';
  labels: Label[];
  offered: boolean;
}

export interface Picture {
  view: RackView;
  width: number;
  height: number;
  cellWidth: number;
  cells: DrawnCell[];
  axes: Label[];
  contours: Contour[];
  /** Between slots of different kinds: from x, y to x2, y2. */
  borders: { x: number; y: number; x2: number; y2: number }[];
}

export const CELL_HEIGHT = 104;
export const PLATE = { inset: 3, top: 22, height: 38 } as const;
export const LEFT = 22;
export const TOP = 22;
const PAD = 6;
const PLATE_PAD = 4;
/** A code is set larger where there is room. */
const CODE_SIZES = [13, 12] as const;
const SMALL = 12;
const FIGURE_SIZE = 12.5;
const NARROWEST = 68;
const WIDEST = 118;
/** The room a page gives a rack at a desk. */
const ROOM = 1030;

/** From these up, umol/(m2 s), the paper is one step brighter: the same on every rack, so that racks compare. */
export const LIGHT_STEPS = [40, 70, 100, 140, 200, 300] as const;

/** The class of a slot's tone. */
export function toneOf(par: number | null): string {
  if (par === null) return 'light-none';
  return `light-${LIGHT_STEPS.filter((step) => par >= step).length}`;
}

interface Cut {
  cellWidth: number;
  codeSize: number;
}

/** As wide as the page allows, and never so narrow that a code would be cut off: a code is what a lot is known by. */
function cutOf(slots: readonly SlotStanding[], columns: number): Cut {
  const shared = Math.min(Math.max(Math.floor((ROOM - LEFT) / columns), NARROWEST), WIDEST);
  const widest = Math.max(0, ...slots.map((slot) => (slot.lot === null ? 0 : textWidth(slot.lot.code, 1))));
  const needed = (size: number) => Math.ceil(widest * size + 2 * (PLATE.inset + PLATE_PAD));
  const codeSize = CODE_SIZES.find((size) => needed(size) <= shared) ?? Math.min(...CODE_SIZES);
  return { cellWidth: Math.max(shared, needed(codeSize)), codeSize };
}

interface Drawing {
  rows: number;
  columns: number;
  /** The usual base; only others are named. */
  base: SlotStanding['base'];
  view: RackView;
  timeZone: string;
  now: Date;
  /** Slots whose light is extrapolated. */
  beyond?: ReadonlySet<string>;
  /** Free slots that suit the lot to be moved. */
  offered?: ReadonlySet<string>;
}

/** Places everything of a rack's picture; texts are shortened to their room and never overlap. */
export function layOut(slots: readonly SlotStanding[], drawing: Drawing): Picture {
  const { cellWidth, codeSize } = cutOf(slots, drawing.columns);
  const cells = slots.map((slot): DrawnCell => {
    const [x, y] = [LEFT + (slot.column - 1) * cellWidth, TOP + (slot.row - 1) * CELL_HEIGHT];
    return {
      slot,
      x,
      y,
      tone: showsLight(drawing.view) ? toneOf(slot.light?.par ?? null) : 'plain',
      mark: slot.lot?.alert?.severity ?? '',
      labels: labelsOf(slot, drawing, { x, y, width: cellWidth, codeSize }),
      offered: drawing.offered?.has(slot.id) ?? false,
    };
  });
  return {
    view: drawing.view,
    width: LEFT + drawing.columns * cellWidth + 1,
    height: TOP + drawing.rows * CELL_HEIGHT + 1,
    cellWidth,
    cells,
    axes: axesOf(drawing, cellWidth),
    contours: contoursOf(slots, drawing),
    borders: drawing.view === 'kind' ? bordersOf(slots, drawing, cellWidth) : [],
  };
}

const showsLight = (view: RackView): boolean => view === 'light' || view === 'daily';

/** About how many lines of equal light a rack gets. */
const LINES = 5;

/** Lines of equal light at round numbers of this rack's own range: tones compare racks, lines show the shape of one. */
function contoursOf(slots: readonly SlotStanding[], drawing: Drawing): Contour[] {
  if (!showsLight(drawing.view)) return [];
  const levelOf = ({ light }: SlotStanding) => (drawing.view === 'light' ? light?.par : light?.dli) ?? null;
  const [low, high] = extent(slots, levelOf);
  if (low === undefined || high === undefined) return [];
  return contourLines(slots, { ...drawing, levelOf }, ticks(low, high, LINES));
}

/** Where one kind ends and another (or nothing) begins. */
function bordersOf(slots: readonly SlotStanding[], { rows, columns }: Drawing, width: number) {
  const kinds = new Map(slots.map(({ row, column, lot }) => [`${row} ${column}`, lot?.kind ?? '']));
  const differs = (row: number, column: number, row2: number, column2: number) =>
    row2 <= rows && column2 <= columns && kinds.get(`${row} ${column}`) !== kinds.get(`${row2} ${column2}`);
  return slots.flatMap(({ row, column }) => {
    const [right, bottom] = [LEFT + column * width, TOP + row * CELL_HEIGHT];
    const beside = { x: right, y: bottom - CELL_HEIGHT, x2: right, y2: bottom };
    const beneath = { x: right - width, y: bottom, x2: right, y2: bottom };
    return [
      ...(differs(row, column, row, column + 1) ? [beside] : []),
      ...(differs(row, column, row + 1, column) ? [beneath] : []),
    ];
  });
}

function axesOf({ rows, columns }: Drawing, cellWidth: number): Label[] {
  const label = (text: string, x: number, y: number): Label => ({
    text,
    x,
    y,
    size: FIGURE_SIZE,
    className: 'axis-label',
    anchor: 'middle',
  });
  const across = (i: number) => label(String(i + 1), LEFT + (i + 0.5) * cellWidth, TOP - 8);
  const down = (i: number) => label(rowLetter(i + 1), LEFT / 2, TOP + (i + 0.5) * CELL_HEIGHT + 4);
  return [
    ...Array.from({ length: columns }, (_, i) => across(i)),
    ...Array.from({ length: rows }, (_, i) => down(i)),
  ];
}

interface Box {
  x: number;
  y: number;
  width: number;
  codeSize: number;
}

function labelsOf(slot: SlotStanding, drawing: Drawing, { x, y, width, codeSize }: Box): Label[] {
  const room = width - 2 * PAD;
  const start = (text: string, dx: number, dy: number, size: number, className: string): Label[] =>
    text === '' ? [] : [{ text, x: x + dx, y: y + dy, size, className, anchor: 'start' }];
  const figure = figureOf(slot, drawing);
  const plateRoom = width - 2 * (PLATE.inset + PLATE_PAD);
  const dx = PLATE.inset + PLATE_PAD;
  const { lot } = slot;
  const note = noteOf(slot, drawing);
  const kind = shortKind(lot?.kind ?? '', plateRoom);
  return [
    ...start(fitted(figure.text, room, FIGURE_SIZE), PAD, 16, FIGURE_SIZE, figure.className),
    ...(lot === null ? [] : start(lot.code, dx, 38, codeSize, 'code')),
    ...start(kind.text, dx, 54, kind.size, 'kind'),
    ...(drawing.view === 'kind'
      ? nameBeneath(lot, kind.text, room).flatMap((line, i) =>
          start(line, PAD, 76 + 14 * i, NAME_SIZE, 'kind'),
        )
      : start(firstPart(note.text, room), PAD, 75, SMALL, note.className)),
  ];
}

/** The whole of a note, or what stands before its comma, or as much of that as fits. */
function firstPart(text: string, room: number): string {
  return textWidth(text, SMALL) <= room ? text : fitted(text.split(',')[0] ?? text, room, SMALL);
}

/** What stands in the corner of a slot. */
function figureOf({ id, name, light, flow, lot }: SlotStanding, drawing: Drawing) {
  const { view, timeZone, now, beyond } = drawing;
  if (view === 'flow') return { text: flowWords[flow], className: 'word' };
  if (view === 'age') return { text: lot === null ? '' : spanWords(lot.hereSince, now), className: 'word' };
  if (view === 'kind') return { text: name, className: 'word' };
  if (view === 'condition') {
    const text = lot === null ? '' : lot.look === null ? 'not seen' : shortDate(lot.look.at, timeZone);
    return { text, className: 'word' };
  }
  if (light === null) return { text: '', className: 'light' };
  const value = view === 'light' ? String(Math.round(light.par)) : (light.dli?.toFixed(1) ?? '');
  if (value === '') return { text: '', className: 'light' };
  const kinds = ['light', light.estimated && 'estimated', light.measured && 'measured'].filter(Boolean);
  const unsure = beyond?.has(id) === true ? '?' : '';
  return { text: `${light.estimated ? '≈' : ''}${value}${unsure}`, className: kinds.join(' ') };
}

/** How long, short enough for a slot: "5 d", "7 wk", "14 mo". */
export function spanWords(since: Date, now: Date): string {
  const days = Math.max(0, Math.floor(daysBetween(since, now)));
  if (days < 28) return `${days} d`;
  return days < 182 ? `${Math.round(days / 7)} wk` : `${Math.round(days / 30.44)} mo`;
}

const shortDate = (at: Date, timeZone: string) => dateWords(at, timeZone).replace(/ \d+$/, '');

/** What stands beneath the label: what the view asks for, else why the lot wants attention. */
function noteOf({ lot, base }: SlotStanding, drawing: Drawing): { text: string; className: string } {
  if (drawing.view === 'flow') {
    return { text: base === drawing.base ? '' : baseWords[base], className: 'kind' };
  }
  if (drawing.view === 'condition') {
    const { look } = lot ?? { look: null };
    // What is well is quiet, whatever else is open about the lot.
    return {
      text: look === null ? '' : lookWords(look),
      className: look?.state === 'well' ? 'kind' : 'note',
    };
  }
  if (drawing.view === 'age')
    return { text: lot === null ? '' : `ours ${spanWords(lot.heldSince, drawing.now)}`, className: 'kind' };
  return { text: lot === null ? '' : reasonWords(lot), className: 'note' };
}

const NAME_SIZE = 11;

/** What of a kind's name the label has no room for: what follows the genus, or all where that itself was cut. */
function nameBeneath(lot: StandingLot | null, onLabel: string, room: number): string[] {
  if (lot === null || onLabel === lot.kind) return [];
  const [genus, ...rest] = lot.kind.split(' ');
  return inTwoLines(onLabel === genus ? rest.join(' ') : lot.kind, room, NAME_SIZE);
}

/** The rules that have a shorter word than their name. */
const shortReasons: Readonly<Record<string, string>> = {
  'too-much-light': 'too bright',
  'too-little-light': 'too dim',
  'flow-unsuited': 'wrong flow',
  'jet-on-flesh': 'in a jet',
  'loose-in-flow': 'may fall',
  'neighbours-in-reach': 'too near',
};

/** Why a lot wants attention, in two or three words; '' when nothing is open. */
export function reasonWords({ alert, look }: StandingLot): string {
  if (alert === null) return '';
  if (alert.rule === 'condition-noted' && look !== null) return lookWords(look);
  return shortReasons[alert.rule] ?? alert.rule.replaceAll('-', ' ');
}
