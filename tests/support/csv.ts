import { readFileSync } from 'node:fs';

/** One row of a table of reference values: column name to cell text. */
export type Row = Readonly<Record<string, string>>;

/** Reads `tests/reference/<name>.csv` (comma, one header row, quoted cells allowed). */
export function referenceTable(name: string): Row[] {
  const text = readFileSync(new URL(`../reference/${name}.csv`, import.meta.url), 'utf8');
  const [header = [], ...rows] = parse(text);
  return rows.map((cells) => Object.fromEntries(header.map((column, i) => [column, cells[i] ?? ''])));
}

/** The number in a cell; an empty or unreadable cell throws, so that no check passes on nothing. */
export function num(row: Row, column: string): number {
  const cell = row[column];
  const value = cell === undefined || cell === '' ? Number.NaN : Number(cell);
  if (Number.isNaN(value)) throw new Error(`column "${column}" holds "${cell}", not a number`);
  return value;
}

/** The text in a cell; a missing column throws. */
export function text(row: Row, column: string): string {
  const cell = row[column];
  if (cell === undefined) throw new Error(`there is no column "${column}"`);
  return cell;
}

function parse(source: string): string[][] {
  return source
    .split(/\r?\n/)
    .filter((line) => line !== '')
    .map((line) => [...line.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^,]*))/g)].map(cell));
}

function cell(match: RegExpMatchArray): string {
  return match[1] === undefined ? (match[2] ?? '') : match[1].replaceAll('""', '"');
}
