import { baseWords, flowWords } from '../../farm/racks/words.ts';
import { dateWords } from '../../platform/words/times.ts';
import { calledBy } from '../../stock/base/codes.ts';
import type { SlotOccupancy, SlotOccupant } from '../../stock/places/occupancy.ts';
import { openAlertWords, shortAge, shortConditionWords } from './lot-words.rules.ts';
import { FIGURE_SIZE, PLATE, SQUEEZE } from './measures.ts';
import type { RackView } from './rack-views.ts';
import { fitKindName, fitText, textWidth, wrapInTwo } from './text-fit.rules.ts';

/** A text in the drawing of a rack; `anchor` as in SVG. */
export interface TextLabel {
  text: string;
  x: number;
  y: number;
  size: number;
  className: string;
  anchor: 'start' | 'middle';
  /** Width it is set to where its letters are narrowed, px. */
  narrowedTo?: number;
}

/** What the texts of a slot depend on besides the slot itself. */
export interface LabelOptions {
  view: RackView;
  /** The usual base of the rack; a slot's base is shown only where it differs. */
  base: SlotOccupancy['base'];
  timeZone: string;
  now: Date;
  /** Ids of slots whose light is extrapolated. */
  extrapolated?: ReadonlySet<string>;
}

/** Where a slot is drawn, and the type size of its lot's code. */
interface LabelBox {
  x: number;
  y: number;
  width: number;
  codeSize: number;
}

/** Left edge of texts outside the plate. */
const PAD = 6;
const NOTE_SIZE = 12;
const NAME_SIZE = 11;

/** The texts of one slot, each shortened to its room. */
export function slotLabels(
  slot: SlotOccupancy,
  options: LabelOptions,
  { x, y, width, codeSize }: LabelBox,
): TextLabel[] {
  const room = width - 2 * PAD;
  const textAt = (text: string, dx: number, dy: number, size: number, className: string): TextLabel[] =>
    text === '' ? [] : [{ text, x: x + dx, y: y + dy, size, className, anchor: 'start' }];
  const figure = figureOf(slot, options);
  const plateRoom = width - 2 * (PLATE.inset + PLATE.padding);
  const plateX = PLATE.inset + PLATE.padding;
  const { lot } = slot;
  const note = noteOf(slot, options);
  const kind = fitKindName(lot?.kind ?? '', plateRoom);
  return [
    ...textAt(fitText(figure.text, room, FIGURE_SIZE), PAD, 16, FIGURE_SIZE, figure.className),
    ...(lot === null
      ? []
      : narrowed(
          textAt(fitText(calledBy(lot), plateRoom / SQUEEZE, codeSize), plateX, 38, codeSize, 'code'),
          plateRoom,
        )),
    ...textAt(kind.text, plateX, 54, kind.size, 'kind'),
    ...(options.view === 'kind'
      ? restOfName(lot, kind.text, room).flatMap((line, i) =>
          textAt(line, PAD, 76 + 14 * i, NAME_SIZE, 'kind'),
        )
      : narrowed(textAt(fitNote(note.text, room / SQUEEZE), PAD, 75, NOTE_SIZE, note.className), room)),
  ];
}

/** Texts that are too wide for their room get narrower letters. */
const narrowed = (labels: readonly TextLabel[], room: number): TextLabel[] =>
  labels.map((label) => (textWidth(label.text, label.size) <= room ? label : { ...label, narrowedTo: room }));

/** A note whole, else the part before its comma, shortened where that does not fit either. */
function fitNote(text: string, room: number): string {
  return textWidth(text, NOTE_SIZE) <= room ? text : fitText(text.split(',')[0] ?? text, room, NOTE_SIZE);
}

/** The text in the upper corner of a slot. */
function figureOf({ id, name, light, flow, lot }: SlotOccupancy, options: LabelOptions) {
  const { view, timeZone, now, extrapolated } = options;
  if (view === 'flow') return { text: flow === null ? '?' : flowWords[flow], className: 'word' };
  if (view === 'age') return { text: lot === null ? '' : shortAge(lot.inSlotSince, now), className: 'word' };
  if (view === 'kind') return { text: name, className: 'word' };
  if (view === 'condition') {
    const text = lot === null ? '' : lot.look === null ? 'not seen' : shortDate(lot.look.at, timeZone);
    return { text, className: 'word' };
  }
  if (light === null) return { text: '', className: 'light' };
  const value = view === 'light' ? String(Math.round(light.par)) : (light.dli?.toFixed(1) ?? '');
  if (value === '') return { text: '', className: 'light' };
  const kinds = ['light', light.estimated && 'estimated', light.measured && 'measured'].filter(Boolean);
  const doubtMark = extrapolated?.has(id) === true ? '?' : '';
  return { text: `${light.estimated ? '≈' : ''}${value}${doubtMark}`, className: kinds.join(' ') };
}

const shortDate = (at: Date, timeZone: string) => dateWords(at, timeZone).replace(/ \d+$/, '');

/** The note beneath the plate: what the view is about, else the open alert about the lot. */
function noteOf({ lot, base }: SlotOccupancy, options: LabelOptions): { text: string; className: string } {
  if (options.view === 'flow') {
    return { text: base === options.base ? '' : baseWords[base], className: 'kind' };
  }
  if (options.view === 'condition') {
    const { look } = lot ?? { look: null };
    // In this view a lot found well is set quietly, even with another alert open about it.
    return {
      text: look === null ? '' : shortConditionWords(look),
      className: look?.state === 'well' ? 'kind' : 'note',
    };
  }
  if (options.view === 'age')
    return { text: lot === null ? '' : `ours ${shortAge(lot.onFarmSince, options.now)}`, className: 'kind' };
  return { text: lot === null ? '' : openAlertWords(lot), className: 'note' };
}

/** The part of a kind's name that did not fit on the plate: what follows the genus, or all of it when the genus was cut. */
function restOfName(lot: SlotOccupant | null, onPlate: string, room: number): string[] {
  if (lot === null || onPlate === lot.kind) return [];
  const [genus, ...rest] = lot.kind.split(' ');
  return wrapInTwo(onPlate === genus ? rest.join(' ') : lot.kind, room, NAME_SIZE);
}
