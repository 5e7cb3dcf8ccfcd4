import { type Column, columnMeanings, columnOf, guessHeadRow } from './headers.rules.ts';
import type { Answers } from './questions.rules.ts';
import { dayInTime } from './sheet-shape.rules.ts';

/** Which row holds the heads, and what each column holds: as answered, else as guessed. */
export interface ColumnLayout {
  /** 1 for the first row; 0 when there is none. */
  headRow: number;
  columns: Column[];
}

export function columnLayout(rows: readonly (readonly string[])[], answers: Answers): ColumnLayout {
  const chosen = Number(answers.head ?? Number.NaN);
  const headRow =
    Number.isInteger(chosen) && chosen >= 0 && chosen <= rows.length ? chosen : guessHeadRow(rows);
  const heads = headRow === 0 ? [] : (rows[headRow - 1] ?? []);
  // A row longer than the head is a fault of that row; it makes no new column.
  const width = headRow > 0 ? heads.length : Math.max(0, ...rows.slice(0, 50).map((row) => row.length));
  const guessed = Array.from({ length: Math.min(width, 100) }, (_, i) => columnOf(heads[i] ?? ''));
  const named = dropRepeatedMeanings(guessed);
  const withDay = dayInTime(named, rows.slice(headRow));
  const columns = named.map((told, i) => {
    const column = i === withDay ? { ...told, meaning: 'when' } : told;
    const meaning = answers[`column-${i}`];
    return meaning === undefined || !isMeaning(meaning) ? column : { ...column, meaning };
  });
  return { headRow, columns };
}

const isMeaning = (meaning: string) =>
  meaning.startsWith('q:') || meaning.startsWith('limit:') || Object.hasOwn(columnMeanings, meaning);

/** A meaning that two heads claim goes to the first of them; two columns of one quantity may both stand. */
function dropRepeatedMeanings(columns: readonly Column[]): Column[] {
  const taken = new Set<string>();
  return columns.map((column) => {
    const { meaning } = column;
    if (meaning === 'ignore' || meaning === 'derived' || meaning.startsWith('q:')) return column;
    if (taken.has(meaning)) return { ...column, meaning: 'ignore' };
    taken.add(meaning);
    return column;
  });
}

/** The places of a layout's columns. */
export function columnIndexes({ columns }: ColumnLayout) {
  const indexOf = (meaning: string) => columns.findIndex((column) => column.meaning === meaning);
  const quantities = columns.flatMap((column, index) =>
    column.meaning.startsWith('q:') ? [{ index, code: column.meaning.slice(2), column }] : [],
  );
  return { at: indexOf, quantities, isLong: quantities.length === 0 };
}

/** The heads of the columns that nothing is taken of, though something is in them. */
export function unusedHeads(
  { columns, headRow }: { columns: readonly { head: string; meaning: string }[]; headRow: number },
  rows: readonly (readonly string[])[],
): string[] {
  const body = rows.slice(headRow);
  return columns.flatMap(({ head, meaning }, i) =>
    meaning === 'ignore' && body.some((row) => (row[i] ?? '') !== '') ? [head || `column ${i + 1}`] : [],
  );
}

/** What the layout lacks before any row can be read, or null. */
export function layoutFault(layout: ColumnLayout, answers: Answers): string | null {
  const { at, quantities } = columnIndexes(layout);
  if (at('when') < 0 && at('date') < 0 && (answers.when ?? '') === '')
    return 'No column says when. Name the column, or give one day and time for the whole file.';
  const hasValues = at('value') >= 0 && at('quantity') >= 0;
  if (quantities.length === 0 && !hasValues)
    return 'No column holds values. Say below which column holds which quantity, or which holds the quantity’s name and which the value.';
  return null;
}
