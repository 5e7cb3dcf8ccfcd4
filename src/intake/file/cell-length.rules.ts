import { Refusal } from '../../platform/refusal.ts';

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
