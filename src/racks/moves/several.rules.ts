/** A slot of a rack, with its cell. */
export interface FreeCell {
  id: string;
  row: number;
  column: number;
}

/** A lot that wants a place, and how many slots it takes. */
export interface WantedPlace {
  code: string;
  slots: number;
}

/**
 * Puts lots into the free slots of a rack, one after the other in reading order from `from` on (null: from the first). A
 * lot that takes several slots gets neighbours in one row. A lot for which nothing is left gets none.
 * @returns the ids of the slots for each code
 */
export function arrange(
  lots: readonly WantedPlace[],
  free: readonly FreeCell[],
  from: string | null,
): Map<string, string[]> {
  const begin = Math.max(
    0,
    free.findIndex(({ id }) => id === from),
  );
  const left = free.slice(begin);
  const placed = new Map<string, string[]>();
  for (const { code, slots } of lots) {
    const at = left.findIndex((_, i) => isRun(left.slice(i, i + slots), slots));
    const run = at < 0 ? [] : left.splice(at, slots);
    placed.set(
      code,
      run.map(({ id }) => id),
    );
  }
  return placed;
}

/** Whether so many cells stand side by side in one row. */
const isRun = (cells: readonly FreeCell[], slots: number): boolean =>
  cells.length === slots &&
  cells.every((cell, i) => cell.row === cells[0]?.row && cell.column === (cells[0]?.column ?? 0) + i);

/** The slots that a lot takes from one on along its row; one that is not there is left to be refused by the caller. */
export function runFrom(first: FreeCell, slots: number, cells: readonly FreeCell[]): string[] {
  const run = Array.from({ length: slots }, (_, i) =>
    cells.find(({ row, column }) => row === first.row && column === first.column + i),
  );
  return run.flatMap((cell) => (cell === undefined ? [] : [cell.id]));
}
