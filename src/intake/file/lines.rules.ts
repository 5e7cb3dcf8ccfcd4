import { convertDifference, unitsOf } from '../../science/units.ts';
import type { ParsedValue } from '../../water/entry/entry.rules.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';
import { type MeasuredWith, measuredWith } from './instruments.rules.ts';
import { normalizeName, quantityByName } from './names.rules.ts';
import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leftOut,
  type NotTaken,
  questionId,
  refusedBecause,
} from './questions.rules.ts';
import type { RowReader } from './row-reader.ts';
import { cellAt } from './sheet-shape.rules.ts';
import { type SystemAndTime, systemAndTimeOf } from './system-and-time.rules.ts';
import { readValue } from './values.rules.ts';

/** What becomes of one cell of a file. */
export type LineState = 'taken' | 'present' | NotTaken['state'];

/** One value of a file: the reading it would become, or why it is none. */
export interface FileLine {
  row: number;
  /** The column's head, or its number; '' for the whole row. */
  column: string;
  text: string;
  state: LineState;
  /** Why it is not taken; '' when it is. */
  reason: string;
  parsed: ParsedLine | null;
}

/** The reading that a line becomes. */
export interface ParsedLine extends SystemAndTime {
  quantity: Quantity;
  reading: ParsedValue;
  instrument: MeasuredWith;
  batch: string;
  note: string;
  /** Who tested, by name; '' where the file does not say. */
  measuredBy: string;
  /** The value as it was entered, where the file keeps it apart from the value. */
  entered: { text: string; unit: string; factor: number } | null;
  /** The standard uncertainty as the file states it, canonical; null where it does not. */
  uncertainty: number | null;
}

/** One cell with what its head or its row says of it. */
interface QuantityCell {
  row: number;
  column: string;
  text: string;
  quantity: Quantity;
  unitText: string;
  /** The question by which its unit is settled. */
  unitId: string;
  /** The column its value stands in, counted from 0. */
  index: number;
  /** The least that could have been seen, as written; '' where the file does not say. */
  limit: string;
}

/** The lines of one row: one for each column of a quantity, or one for a row that names its quantity. */
export function readRow(reader: RowReader, cells: readonly string[], row: number): FileLine[] {
  if (cells.every((cell) => cell === '')) return [];
  const place = systemAndTimeOf(reader, cells, row);
  if (isNotTaken(place))
    return [{ row, column: '', text: cells.join(' ').slice(0, 80), ...place, parsed: null }];
  const found = reader.columns.isLong ? [longCell(reader, cells, row)] : wideCells(reader, cells, row);
  return found.map((cell) => {
    if ('parsed' in cell) return cell;
    const { column, text } = cell;
    const parsed = parseCell(reader, cells, place, cell);
    return isNotTaken(parsed)
      ? { row, column, text, ...parsed, parsed: null }
      : { row, column, text, state: 'taken' as const, reason: '', parsed };
  });
}

function wideCells(
  { columns, farm, layout }: RowReader,
  cells: readonly string[],
  row: number,
): QuantityCell[] {
  return columns.quantities.flatMap(({ code, column, index }) => {
    const quantity = farm.instruments.quantities.get(code);
    if (quantity === undefined) return [];
    const head = column.head || `column ${index + 1}`;
    const limitAt = layout.columns.findIndex(({ meaning }) => meaning === `limit:${code}`);
    const limit = cellAt(cells, limitAt, 'limit');
    const { unitText } = column;
    const text = cellAt(cells, index, 'value');
    return [{ row, column: head, text, quantity, unitText, unitId: `unit-${index}`, index, limit }];
  });
}

function longCell(reader: RowReader, cells: readonly string[], row: number): QuantityCell | FileLine {
  const name = reader.cell(cells, 'quantity');
  const headOf = (meaning: string) =>
    reader.layout.columns.find((column) => column.meaning === meaning)?.head ?? '';
  const found = quantityOf(reader, name, row);
  if (isNotTaken(found)) return { row, column: headOf('quantity'), text: name, ...found, parsed: null };
  const { quantity, form } = found;
  const written = reader.cell(cells, 'unit');
  const unitText = form === '' || statesForm.test(written) ? written : `${written} ${form}`.trim();
  const unitId = questionId('unit', quantity.code, unitText);
  const index = reader.columns.at('value');
  const [text, limit] = [reader.cell(cells, 'value'), reader.cell(cells, 'limit')];
  return { row, column: headOf('value'), text, quantity, unitText, unitId, index, limit };
}

/** "mg/L N", "mg/L as N", "mg N/L". */
const statesForm = /\bas\b|\b(n|p|si|nh[34])$|g\s?(n|p|si)\b/i;

function quantityOf(
  { farm, questions }: RowReader,
  name: string,
  row: number,
): { quantity: Quantity; form: string } | NotTaken {
  const { quantities } = farm.instruments;
  const found = quantityByName(name);
  const quantity = quantities.get(found?.code ?? '');
  if (found !== null && quantity !== undefined) return { quantity, form: found.form };
  if (name === '') return refusedBecause('The quantity is missing.');
  const code = questions.ask(questionId('quantity', name), row, () => ({
    text: `Which quantity is “${name}”?`,
    hint: 'Choose what it measures, or leave its rows out.',
    choices: [
      ...[...quantities.values()].map((one) => ({ value: one.code, text: one.name })),
      leaveOutChoice,
    ],
  }));
  const chosen = quantities.get(code);
  if (chosen !== undefined) return { quantity: chosen, form: '' };
  return code === '' ? awaitingAnswer : leftOut;
}

function parseCell(
  reader: RowReader,
  cells: readonly string[],
  place: SystemAndTime,
  { row, text, quantity, unitText, unitId, index, limit }: QuantityCell,
): ParsedLine | NotTaken {
  const { questions, farm, marks } = reader;
  const code = codeOf(reader, cells);
  if (text === '' && code === null) return { state: 'nothing', reason: 'empty' };
  const unit = reader.readUnit(quantity, unitText, unitId, row);
  if (isNotTaken(unit)) return unit;
  const stated = {
    method: reader.cell(cells, 'method'),
    kit: reader.cell(cells, 'kit'),
    laboratory: reader.cellOrAnswer(cells, 'laboratory'),
  };
  const instrument = measuredWith(farm.instruments, stated, quantity, place.at, row, questions);
  if (isNotTaken(instrument)) return instrument;
  const { figures, laboratory } = instrument;
  const decimalMark = marks.ofColumns.get(index) ?? marks.ofFile;
  const value = readValue(
    {
      row,
      text,
      code,
      quantity,
      unit: unit.unit,
      method: figures,
      laboratory,
      limit,
      column: index,
      decimalMark,
    },
    questions,
  );
  if (value.state !== 'taken') return value;
  const condition = unit.condition === '' ? '' : `Unit in the file: ${unitText}.`;
  const note = [reader.cell(cells, 'note'), condition].filter(Boolean).join(' ');
  return {
    ...place,
    quantity,
    reading: value.reading,
    instrument,
    batch: reader.cellOrAnswer(cells, 'batch'),
    note,
    measuredBy: reader.cell(cells, 'by').slice(0, 200),
    entered: enteredOf(reader, cells, quantity),
    uncertainty: uncertaintyOf(reader, cells, quantity, value.reading),
  };
}

/** How the value was entered, of a file that keeps that apart. */
function enteredOf(reader: RowReader, cells: readonly string[], { code }: Quantity): ParsedLine['entered'] {
  const [text, unit] = [reader.cell(cells, 'enteredText'), reader.cell(cells, 'enteredUnit')];
  const factor = Number(reader.cell(cells, 'factor') || 1);
  return text === '' || !unitsOf(code).includes(unit) || !(factor > 0) ? null : { text, unit, factor };
}

function uncertaintyOf(
  reader: RowReader,
  cells: readonly string[],
  { code, canonicalUnit }: Quantity,
  { entered, unit }: ParsedValue,
): number | null {
  const written = Number(reader.cell(cells, 'uncertainty') || 'none');
  if (!(written > 0)) return null;
  return Math.abs(convertDifference(code, written, unit, canonicalUnit, entered));
}

/** The row's code; where the column's head says what yes and no mean, the sign that says it by itself. */
function codeOf(reader: RowReader, cells: readonly string[]): string | null {
  if (!reader.has('code')) return null;
  const code = reader.cell(cells, 'code');
  const head = reader.layout.columns.find((column) => column.meaning === 'code')?.head ?? '';
  if (normalizeName(head) !== 'belowdetection') return code;
  return { yes: '<', true: '<', no: '=', false: '=', 'above scale': '>' }[code.toLowerCase()] ?? code;
}
