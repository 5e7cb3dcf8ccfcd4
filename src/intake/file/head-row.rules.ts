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
