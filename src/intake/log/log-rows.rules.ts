import { dayMs, minuteMs } from '../../science/numeric/time.ts';
import { isNotTaken, type NotTaken, refusedBecause } from '../file/questions.rules.ts';
import { isRemark, isTotals } from '../file/sheet-shape.rules.ts';
import { systemNamed } from '../file/system-and-time.rules.ts';
import type { LogColumn } from './columns.rules.ts';
import { changeOf, doseOf, feedingOf, type Take, textOf, upkeepOf } from './entries.rules.ts';
import { logKindWords } from './kinds.rules.ts';
import {
  type Cells,
  cellsOf,
  type FileEntry,
  type LogLine,
  type LogReader,
  timeText,
} from './log-reader.rules.ts';

/** How far ahead of the service's clock a file's clock may be; own choice. */
const clockToleranceMs = 5 * minuteMs;

const readers = { doses: doseOf, water_changes: changeOf, feedings: feedingOf, upkeep: upkeepOf } as const;

/** The lines of one row: the entry it becomes, or one line for each fault. */
export function readLogRow(reader: LogReader, row: readonly string[], number: number): LogLine[] {
  if (row.every((cell) => cell === '')) return [];
  const cells = cellsOf(reader, row, number);
  const line = { row: number, column: '', text: shortly(cells), words: '', parsed: null };
  if (isVoided(cells.text('voided')))
    return [{ ...line, state: 'nothing', reason: 'marked as not counting' }];
  const { columns, headRow } = reader.layout;
  if (isTotals(row)) return [{ ...line, state: 'nothing', reason: 'a row of totals' }];
  if (isRemark(row, columns.length)) return [{ ...line, state: 'nothing', reason: 'a remark alone' }];
  if (headRow > 0 && row.slice(columns.length).some((cell) => cell !== '')) {
    const reason = `The row has ${row.length} cells, the head ${columns.length}. A comma without quotes around it?`;
    return [{ ...line, state: 'refused', reason }];
  }
  const other = reader.otherKind(row, number);
  if (other !== null) return [{ ...line, ...other }];
  const faults: LogLine[] = [];
  const take: Take = <T>(column: LogColumn, value: T | NotTaken): T | null => {
    if (value === null || typeof value !== 'object' || !isNotTaken(value)) return value as T;
    faults.push({ ...line, column: cells.head(column), text: cells.text(column), ...value });
    return null;
  };
  const at = take(reader.placeOf.has('when') ? 'when' : 'date', timeOf(reader, cells));
  const systemId = systemIdOf(reader, cells, take);
  const doneBy = take('by', textOf(cells, 'by', 80)) ?? '';
  const note = take('note', textOf(cells, 'note', 2000)) ?? '';
  const own = readers[reader.farm.kind](reader, cells, systemId, take);
  if (faults.length > 0 || at === null) return faults;
  return [
    { ...line, state: 'taken', reason: '', parsed: { ...own, systemId, at, doneBy, note } as FileEntry },
  ];
}

/** A cell that says so, or when; "no" says that the row counts. */
const isVoided = (text: string) => !/^(no?|false|f|0|-)?$/i.test(text.trim());

/** A device says by itself which system it is of. */
function systemIdOf({ farm, questions }: LogReader, cells: Cells, take: Take): string {
  const name = cells.text('system');
  if (farm.kind === 'upkeep' && name === '') return '';
  const what = logKindWords[farm.kind].many;
  return take('system', systemNamed({ systems: farm.systems, questions, what }, name, cells.row))?.id ?? '';
}

/** A day without a time is kept as its noon, which may be still to come today. */
function timeOf({ momentOf, farm: { now } }: LogReader, cells: Cells): Date | NotTaken {
  const text = timeText(cells);
  if (text === '') return refusedBecause('The day is missing.');
  const read = momentOf(cells.row, text);
  if (isNotTaken(read)) return read;
  const aheadMs = read.at.getTime() - now.getTime();
  if (aheadMs <= 0) return read.at;
  return aheadMs <= clockToleranceMs || (aheadMs < dayMs / 2 && !/\d:\d/.test(text))
    ? now
    : refusedBecause('It is in the future. Check the day, the month and the year.');
}

const shortly = (cells: Cells) =>
  [cells.text('what') || cells.text('food') || cells.text('device'), cells.text('amount'), cells.text('unit')]
    .filter((text) => text !== '')
    .join(' ')
    .slice(0, 120);
