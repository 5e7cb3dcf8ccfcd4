import type { FileMoment } from './dates.rules.ts';
import { plainName } from './names.rules.ts';
import {
  isNot,
  leaveChoice,
  leaveOut,
  left,
  type Not,
  questionId,
  refusal,
  waits,
} from './questions.rules.ts';
import type { FileReader } from './row-reader.ts';

/** Of which water a row speaks, and of when. */
export interface Place {
  at: Date;
  systemId: string;
}

/** How far ahead of the service's clock a file's may be. */
const toleranceMs = 5 * 60_000;

/** Water and time of a row, or why it has none. */
export function placeOf(reader: FileReader, cells: readonly string[], row: number): Place | Not {
  if (reader.cell(cells, 'voided') !== '') return { state: 'nothing', reason: 'marked as not counting' };
  const tooLong = overlong(reader, cells);
  if (tooLong !== null) return refusal(tooLong);
  const when = whenOf(reader, cells);
  if ('fault' in when) return refusal(when.fault);
  if (when.at.getTime() > reader.known.now.getTime() + toleranceMs)
    return refusal('It lies in the future. Check the day, the month and the year.');
  const system = systemOf(reader, reader.cell(cells, 'system'), row);
  return isNot(system) ? system : { at: when.at, systemId: system.id };
}

function overlong({ layout }: FileReader, cells: readonly string[]): string | null {
  const { headRow, columns } = layout;
  if (headRow === 0 || !cells.slice(columns.length).some((cell) => cell !== '')) return null;
  return `The row has ${cells.length} cells, the head ${columns.length}. A decimal comma or a separator without quotes around it?`;
}

function whenOf(reader: FileReader, cells: readonly string[]): FileMoment {
  const said =
    reader.cell(cells, 'when') || `${reader.cell(cells, 'date')} ${reader.cell(cells, 'time')}`.trim();
  if (said !== '') return reader.moment(said);
  if (!reader.has('when') && !reader.has('date')) return reader.moment(reader.answers.when ?? '');
  return { fault: 'The day is missing.' };
}

function systemOf({ known, inquiry }: FileReader, name: string, row: number): { id: string } | Not {
  const found = known.systems.find((system) => plainName(system.name) === plainName(name));
  if (name !== '' && found !== undefined) return found;
  const [only, second] = known.systems;
  if (name === '' && only !== undefined && second === undefined) return only;
  const id = inquiry.ask(questionId('system', name), row, () => ({
    text: name === '' ? 'Which system are these readings of?' : `Which system is “${name}”?`,
    hint: name === '' ? 'The file does not say.' : 'No system has that name.',
    choices: [...known.systems.map((system) => ({ value: system.id, text: system.name })), leaveChoice],
  }));
  if (id === '') return waits;
  return id === leaveOut ? left : { id };
}
