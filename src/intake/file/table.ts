import { Readable } from 'node:stream';
import { CsvError, type Options, parse } from 'csv-parse';
import { parse as parseSync } from 'csv-parse/sync';
import { plainText } from '../../platform/csv.ts';
import { Refusal } from '../../platform/refusal.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';

/** What parts the cells of a row, by name. */
export const separators = { comma: ',', semicolon: ';', tab: '\t' } as const;
export type Separator = keyof typeof separators;
const separatorNames = Object.keys(separators) as Separator[];

/** The separator of that name, if there is one. */
export const separatorNamed = (name: string | undefined): Separator | undefined =>
  separatorNames.find((one) => one === name);

/** A file as rows of cells. Row 1 is the first line, as a spreadsheet counts. */
export interface Table {
  rows: string[][];
  /** Cells that were wrapped in quotes twice, and are taken without them. */
  unwrapped: number;
}

/** The most rows one file may have: years of a probe's hourly values, and a preview within seconds; own choice. */
export const mostRows = 100_000;
/** Lines that are no rows: the heading, what stands above it, empty ones; own choice. */
const linesBeside = 20;

/** A line longer than this, or a row of more cells, is no table of readings: own choice, far beyond any that was seen. */
const longestLine = 100_000;
const mostColumns = 1000;
/** The most cells of one file: 100,000 rows of twenty columns; own choice. */
const mostCells = 2_000_000;

/** The number of the first line that is too long to be read; null where none is. */
function overlongLine(text: string): number | null {
  const lineEnd = /\r\n?|\n/g;
  let [line, start] = [1, 0];
  for (let end = lineEnd.exec(text); ; end = lineEnd.exec(text)) {
    if ((end?.index ?? text.length) - start > longestLine) return line;
    if (end === null) return null;
    start = lineEnd.lastIndex;
    line += 1;
  }
}

const options = (separator: Separator): Options => ({
  delimiter: separators[separator],
  record_delimiter: ['\r\n', '\n', '\r'],
  relax_column_count: true,
  relax_quotes: true,
});

/** The separator under which the first rows fall into the most columns of equal number. */
export function guessSeparator(text: string): Separator {
  const head = text.slice(0, 20_000);
  const scored = separatorNames.map((separator) => ({ separator, score: regularity(head, separator) }));
  return scored.reduce((best, one) => (one.score > best.score ? one : best)).separator;
}

function regularity(head: string, separator: Separator): number {
  const rows = firstRows(head, separator);
  const widths = rows.map((row) => row.length).filter((width) => width > 1);
  const usual = mostCommon(widths);
  return usual === null ? 0 : usual.times * Math.log2(usual.value + 1);
}

function firstRows(head: string, separator: Separator): string[][] {
  try {
    return parseSync(head, {
      ...options(separator),
      to: 30,
      skip_empty_lines: true,
    }) as unknown as string[][];
  } catch (error) {
    if (error instanceof CsvError) return [];
    throw error;
  }
}

function mostCommon(values: readonly number[]): { value: number; times: number } | null {
  const times = new Map<number, number>();
  for (const value of values) times.set(value, (times.get(value) ?? 0) + 1);
  const [best] = [...times].sort((a, b) => b[1] - a[1] || b[0] - a[0]);
  return best === undefined ? null : { value: best[0], times: best[1] };
}

/**
 * The text as rows, read in steps so that others get their turn. Cells are trimmed; a cell in doubled quotes
 * (`"""Genus"""`) loses the inner ones.
 * @throws Refusal for a quotation mark that never closes, too many rows or columns, or a line too long for a table
 */
export async function readTable(text: string, separator: Separator): Promise<Table> {
  const breathe = yieldLoop();
  const table: Table = { rows: [], unwrapped: 0 };
  const overlong = overlongLine(text);
  if (overlong !== null)
    throw new Refusal(
      `Line ${overlong} has more than ${longestLine.toLocaleString('en')} characters, so this is not a table of readings. Look at the file in a text editor.`,
    );
  let cells = 0;
  const parser = Readable.from(chunksOf(text)).pipe(parse(options(separator)));
  try {
    for await (const row of parser as AsyncIterable<string[]>) {
      if (row.length > mostColumns)
        throw new Refusal(
          `Row ${table.rows.length + 1} has ${row.length.toLocaleString('en')} columns; at most ${mostColumns.toLocaleString('en')} are read. Look whether the separator is right.`,
        );
      // The first lines are the heading's and what stands above it.
      cells += table.rows.length < linesBeside ? 0 : row.length;
      if (cells > mostCells)
        throw new Refusal(
          `The file has more than ${mostCells.toLocaleString('en')} cells. Look whether the separator is right, or upload it in parts.`,
        );
      table.rows.push(row.map((cell) => plainCell(cell, table)));
      if (table.rows.length > mostRows + linesBeside)
        throw new Refusal(
          `The file has more than ${mostRows.toLocaleString('en')} rows. Upload it in parts.`,
        );
      await breathe();
    }
  } catch (error) {
    throw error instanceof CsvError ? new Refusal(faultWords(error)) : error;
  }
  return table;
}

const chunkLength = 8192;

function* chunksOf(text: string): Generator<string> {
  for (let at = 0; at < text.length; at += chunkLength) yield text.slice(at, at + chunkLength);
}

function plainCell(cell: string, table: Table): string {
  const trimmed = plainText(cell.trim());
  if (trimmed.length < 2 || !trimmed.startsWith('"') || !trimmed.endsWith('"')) return trimmed;
  table.unwrapped += 1;
  return withoutOuterQuotes(trimmed).trim();
}

/** Without the quotes at both ends. Counted by hand: a pattern looks anew from each quote of a cell that is full of them. */
function withoutOuterQuotes(text: string): string {
  let [from, to] = [0, text.length];
  while (from < to && text[from] === '"') from += 1;
  while (to > from && text[to - 1] === '"') to -= 1;
  return text.slice(from, to);
}

function faultWords(error: CsvError): string {
  const line = typeof error.lines === 'number' ? ` near line ${error.lines}` : '';
  if (error.code === 'CSV_QUOTE_NOT_CLOSED')
    return `A quotation mark that opens${line} never closes, so the rest of the file cannot be read. Close it, then upload the file again.`;
  return `The file cannot be read as a table${line}. Check its quotation marks, then upload it again.`;
}
