import { Refusal } from '../../platform/refusal.ts';
import { parseDateAndTime } from './dates.rules.ts';

/** Longer than any name, number, unit or date (own choice). Patterns that read a cell take the square of its length. */
export const longestWord = 300;

/**
 * The cell of a column; '' where the row has none.
 * @param meaning what the column holds; a note may be of any length
 * @throws Refusal where it is longer than what the column holds can be
 */
export function cellAt(cells: readonly string[], index: number, meaning: string): string {
  const cell = cells[index] ?? '';
  if (cell.length <= longestWord || meaning === 'note') return cell;
  throw new Refusal(
    `Column ${index + 1} has a cell of ${cell.length.toLocaleString('en')} characters, which begins “${cell.slice(0, 40)}”. At most ${longestWord} are read there. Shorten it, or look whether a quotation mark is missing.`,
  );
}

/** How many rows from the top may hold the heads. */
export const rowsSearched = 15;

const filled = (row: readonly string[]) => row.filter((cell) => cell.trim() !== '');
const hasDigit = (row: readonly string[]) => row.some((cell) => /\d/.test(cell));

/**
 * Which of the first rows looks like the heads where no word of them is known: the first that fills nearly all columns with
 * words alone, and has a row with figures under it. 1 for the first, 0 for none.
 */
export function headRowByShape(rows: readonly (readonly string[])[]): number {
  const width = Math.max(0, ...rows.slice(0, 50).map((row) => filled(row).length));
  if (width < 3) return 0;
  const found = rows.slice(0, rowsSearched).findIndex((row, i) => {
    const words = filled(row);
    // Four of five columns (own choice): a column of remarks has often no head.
    const isWide = words.length >= Math.max(3, 0.8 * width);
    const below = rows.slice(i + 1).find((next) => filled(next).length > 0);
    return (
      isWide &&
      !words.some((word) => /^[\d.,:/-]+$/.test(word.trim())) &&
      below !== undefined &&
      hasDigit(below)
    );
  });
  return found + 1;
}

/** The parts of a head that says one thing in two languages: "Regal / Rack". */
export const headParts = (head: string): string[] =>
  /[/|]/.test(head) ? head.split(/\s*[/|]\s*/).filter((part) => part !== '') : [];

const totalWords =
  /^(grand |sub-?)?totals?$|^(sum|average|mean)s?$|^((zwischen|gesamt)?summe|gesamt|mittelwert|durchschnitt)$|^(somme|moyenne|total général)$|^(suma|media|promedio)$|^(totale|somma)$|^(totaal|gemiddelde)$/i;

/** Whether the first filled cell of a row says that it sums the others up, in six languages (common practice). */
export const isTotals = (row: readonly string[]): boolean =>
  totalWords.test((filled(row)[0] ?? '').trim().replace(/\s*:$/, ''));

/** Whether a row of a wide sheet holds one cell of words alone, merged over the others: a remark, or a title between rows. */
export function isRemark(row: readonly string[], columns: number): boolean {
  const [only = '', more] = filled(row);
  return columns >= 4 && more === undefined && /\p{L}{2}.*\s.*\p{L}{2}/su.test(only);
}

/** A figure that is said to be about so much, without the word that says so: "ca. 12"; null where it has none. In four languages. */
export function aboutFigure(text: string): string | null {
  const [, figure] =
    /^(?:ca\.?|circa|etwa|rund|about|approx(?:imately|\.)?|around|env(?:iron|\.)?|[~≈±])\s*(\d.*)$/i.exec(
      text.trim(),
    ) ?? [];
  return figure ?? null;
}

/** How many cells are looked at; own choice. */
const cellsMeasured = 50;

/**
 * Which column is headed "time" and holds whole dates, though no other says the day: it is day and time.
 * @param body the file's rows below its head
 * @returns its place; -1 where there is none
 */
export function dayInTime(
  columns: readonly { meaning: string }[],
  body: readonly (readonly string[])[],
): number {
  if (columns.some(({ meaning }) => meaning === 'when' || meaning === 'date')) return -1;
  const at = columns.findIndex(({ meaning }) => meaning === 'time');
  const cells = body
    .map((row) => row[at] ?? '')
    .filter((cell) => cell !== '')
    .slice(0, cellsMeasured);
  return cells.filter((cell) => parseDateAndTime(cell) !== null).length * 2 > cells.length ? at : -1;
}
