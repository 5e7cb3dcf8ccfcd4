import { minuteMs } from '../../science/numeric/time.ts';
import type { RowMoment } from './clock-change.rules.ts';
import type { FarmContext } from './farm-context.ts';
import { normalizeName } from './names.rules.ts';
import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  type QuestionList,
  questionId,
  refusedBecause,
} from './questions.rules.ts';
import { type RowReader, timeText } from './row-reader.ts';
import { isRemark, isTotals } from './sheet-shape.rules.ts';

/** The system and the time of a row. */
export interface SystemAndTime {
  at: Date;
  systemId: string;
}

/** How far ahead of the service's clock the clock of a file may be; own choice. */
const clockToleranceMs = 5 * minuteMs;

/** The system and time of a row, or why the row is not taken. */
export function systemAndTimeOf(
  reader: RowReader,
  cells: readonly string[],
  row: number,
): SystemAndTime | NotTaken {
  if (reader.cell(cells, 'voided') !== '') return { state: 'nothing', reason: 'marked as not counting' };
  if (isTotals(cells)) return { state: 'nothing', reason: 'a row of totals' };
  if (isRemark(cells, reader.layout.columns.length)) return { state: 'nothing', reason: 'a remark alone' };
  const tooLong = rowLengthFault(reader, cells);
  if (tooLong !== null) return refusedBecause(tooLong);
  const when = timeOf(reader, cells, row);
  if (isNotTaken(when)) return when;
  if (when.at.getTime() > reader.farm.now.getTime() + clockToleranceMs)
    return refusedBecause('It is in the future. Check the day, the month and the year.');
  const system = systemOf(reader, reader.cell(cells, 'system'), row);
  return isNotTaken(system) ? system : { at: when.at, systemId: system.id };
}

function rowLengthFault({ layout }: RowReader, cells: readonly string[]): string | null {
  const { headRow, columns } = layout;
  if (headRow === 0 || !cells.slice(columns.length).some((cell) => cell !== '')) return null;
  return `The row has ${cells.length} cells, the head ${columns.length}. A decimal comma or a separator without quotes around it?`;
}

function timeOf(reader: RowReader, cells: readonly string[], row: number): RowMoment {
  const text = timeText(reader, cells);
  if (text !== '') return reader.momentOf(row, text);
  if (!reader.has('when') && !reader.has('date')) return reader.momentOf(row, reader.answers.when ?? '');
  return refusedBecause('The day is missing.');
}

const systemOf = ({ farm, questions }: RowReader, name: string, row: number) =>
  systemNamed({ systems: farm.systems, questions, what: 'readings' }, name, row);

/** A system by its name; the only one where nothing is written; else it is asked, once a name. @param what the file's rows */
export function systemNamed(
  { systems, questions, what }: { systems: FarmContext['systems']; questions: QuestionList; what: string },
  name: string,
  row: number,
): { id: string } | NotTaken {
  const found = systems.find((system) => normalizeName(system.name) === normalizeName(name));
  if (name !== '' && found !== undefined) return found;
  const [only, second] = systems;
  if (name === '' && only !== undefined && second === undefined) return only;
  const id = questions.ask(questionId('system', name), row, () => ({
    text: name === '' ? `Which system are these ${what} of?` : `Which system is “${name}”?`,
    hint: name === '' ? 'The file does not say.' : 'No system has that name.',
    choices: [...systems.map((system) => ({ value: system.id, text: system.name })), leaveOutChoice],
  }));
  if (id === '') return awaitingAnswer;
  return id === leaveOutValue ? leftOut : { id };
}
