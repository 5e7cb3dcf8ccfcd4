import { farmWords } from './units/reader-words.ts';

/** What a cell may hold; null is an empty cell. */
export type CsvCell = string | number | null;

/**
 * Rows as RFC 4180 has them: commas, CRLF after each, quotes around what needs them and doubled within. A text that a
 * spreadsheet would run as a formula gets an apostrophe before it (see {@link plainText}); numbers stay as they are.
 */
export function csvText(rows: readonly (readonly CsvCell[])[]): string {
  return rows.map((row) => `${row.map(cell).join(',')}\r\n`).join('');
}

/** A text that a spreadsheet would run as a formula (OWASP, CSV injection). */
const formula = /^'*[=+\-@\t\r]/;

/** A cell's text without the apostrophe that {@link csvText} put before it. */
export const plainText = (cell: string): string =>
  cell.startsWith("'") && formula.test(cell) ? cell.slice(1) : cell;

function cell(given: CsvCell): string {
  const value = typeof given === 'string' ? farmWords(given) : given;
  const isFormula = typeof value === 'string' && formula.test(value) && Number.isNaN(Number(value));
  const text = value === null ? '' : `${isFormula ? "'" : ''}${value}`;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
