import type { Understood } from '../../water/entry/entry.rules.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';
import { type Means, meansOf } from './instruments.rules.ts';
import { plainName, quantityNamed } from './names.rules.ts';
import { isNot, leaveChoice, left, type Not, questionId, refusal, waits } from './questions.rules.ts';
import type { FileReader } from './row-reader.ts';
import { type Place, placeOf } from './system-and-time.rules.ts';
import { readValue } from './values.rules.ts';

/** What becomes of one cell of a file. */
export type LineState = 'taken' | 'present' | Not['state'];

/** One value of a file, as it would be kept or why not. */
export interface Line {
  row: number;
  /** The column's head, or its number; '' for the whole row. */
  column: string;
  text: string;
  state: LineState;
  /** Why it is not taken; '' when it is. */
  reason: string;
  kept: Keeping | null;
}

/** All that is kept of a line. */
export interface Keeping extends Place {
  quantity: Quantity;
  reading: Understood;
  means: Means;
  batch: string;
  note: string;
}

/** One cell with what its head or its row says of it. */
interface Cell {
  row: number;
  column: string;
  text: string;
  quantity: Quantity;
  unitText: string;
  /** The question by which its unit is settled. */
  unitId: string;
}

/** The lines of one row: one for each column of a quantity, or one for a row that names its quantity. */
export function linesOf(reader: FileReader, cells: readonly string[], row: number): Line[] {
  if (cells.every((cell) => cell === '')) return [];
  const place = placeOf(reader, cells, row);
  if (isNot(place)) return [{ row, column: '', text: cells.join(' ').slice(0, 80), ...place, kept: null }];
  const found = reader.places.isLong ? [longCell(reader, cells, row)] : wideCells(reader, cells, row);
  return found.map((cell) => {
    if ('kept' in cell) return cell;
    const { column, text } = cell;
    const kept = keepingOf(reader, cells, place, cell);
    return isNot(kept)
      ? { row, column, text, ...kept, kept: null }
      : { row, column, text, state: 'taken' as const, reason: '', kept };
  });
}

function wideCells({ places, known }: FileReader, cells: readonly string[], row: number): Cell[] {
  return places.quantities.flatMap(({ code, column, index }) => {
    const quantity = known.bench.quantities.get(code);
    if (quantity === undefined) return [];
    const head = column.head || `column ${index + 1}`;
    const { unitText } = column;
    return [{ row, column: head, text: cells[index] ?? '', quantity, unitText, unitId: `unit-${index}` }];
  });
}

function longCell(reader: FileReader, cells: readonly string[], row: number): Cell | Line {
  const name = reader.cell(cells, 'quantity');
  const headOf = (meaning: string) =>
    reader.layout.columns.find((column) => column.meaning === meaning)?.head ?? '';
  const found = quantityOf(reader, name, row);
  if (isNot(found)) return { row, column: headOf('quantity'), text: name, ...found, kept: null };
  const { quantity, form } = found;
  const written = reader.cell(cells, 'unit');
  const unitText = form === '' || statesForm.test(written) ? written : `${written} ${form}`.trim();
  const unitId = questionId('unit', quantity.code, unitText);
  return { row, column: headOf('value'), text: reader.cell(cells, 'value'), quantity, unitText, unitId };
}

/** "mg/L N", "mg/L as N", "mg N/L". */
const statesForm = /\bas\b|\b(n|p|si|nh[34])$|g\s?(n|p|si)\b/i;

function quantityOf(
  { known, inquiry }: FileReader,
  name: string,
  row: number,
): { quantity: Quantity; form: string } | Not {
  const { quantities } = known.bench;
  const found = quantityNamed(name);
  const quantity = quantities.get(found?.code ?? '');
  if (found !== null && quantity !== undefined) return { quantity, form: found.form };
  if (name === '') return refusal('The quantity is missing.');
  const code = inquiry.ask(questionId('quantity', name), row, () => ({
    text: `Which quantity is “${name}”?`,
    hint: 'Choose what it measures, or leave its rows out.',
    choices: [...[...quantities.values()].map((one) => ({ value: one.code, text: one.name })), leaveChoice],
  }));
  const chosen = quantities.get(code);
  if (chosen !== undefined) return { quantity: chosen, form: '' };
  return code === '' ? waits : left;
}

function keepingOf(
  reader: FileReader,
  cells: readonly string[],
  place: Place,
  { row, text, quantity, unitText, unitId }: Cell,
): Keeping | Not {
  const { inquiry, known } = reader;
  const code = codeOf(reader, cells);
  if (text === '' && code === null) return { state: 'nothing', reason: 'empty' };
  const unit = reader.units(quantity, unitText, unitId, row);
  if (isNot(unit)) return unit;
  const said = {
    method: reader.cell(cells, 'method'),
    kit: reader.cell(cells, 'kit'),
    laboratory: reader.own(cells, 'laboratory'),
  };
  const means = meansOf(known.bench, said, quantity, place.at, row, inquiry);
  if (isNot(means)) return means;
  const { figures, laboratory } = means;
  const value = readValue(
    { row, text, code, quantity, unit: unit.unit, method: figures, laboratory },
    inquiry,
  );
  if (value.state !== 'taken') return value;
  const condition = unit.condition === '' ? '' : `Unit in the file: ${unitText}.`;
  const note = [reader.cell(cells, 'note'), condition].filter(Boolean).join(' ');
  return { ...place, quantity, reading: value.reading, means, batch: reader.own(cells, 'batch'), note };
}

/** The row's code; where the column's head says what yes and no mean, the sign that says it by itself. */
function codeOf(reader: FileReader, cells: readonly string[]): string | null {
  if (!reader.has('code')) return null;
  const code = reader.cell(cells, 'code');
  const head = reader.layout.columns.find((column) => column.meaning === 'code')?.head ?? '';
  if (plainName(head) !== 'belowdetection') return code;
  return { yes: '<', true: '<', no: '=', false: '=' }[code.toLowerCase()] ?? code;
}
