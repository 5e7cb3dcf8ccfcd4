import { median } from 'd3-array';

/** A table as the sum of an overall level, one effect a row and one a column, and what is left. */
export interface Polished {
  overall: number;
  rows: number[];
  columns: number[];
  /** Null where the table has no value. */
  left: (number | null)[][];
}

/** So many rounds are polished at the most, and no more once nothing moves by more than this (own choices). */
const [MOST_ROUNDS, STILL] = [12, 1e-6];

/**
 * Median polish: row medians are swept out, then column medians, until nothing moves (Tukey 1977, Exploratory Data Analysis).
 * Up to half of a row or column may be wild without moving its effect. Values may be missing.
 */
export function medianPolish(table: readonly (readonly (number | null)[])[]): Polished {
  const left = table.map((row) => [...row]);
  const width = Math.max(0, ...left.map((row) => row.length));
  const rows = left.map(() => 0);
  const columns = Array.from({ length: width }, () => 0);
  let overall = 0;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    let moved = 0;
    for (const [i, row] of left.entries()) {
      const middle = median(row, (value) => value ?? Number.NaN) ?? 0;
      rows[i] = (rows[i] as number) + middle;
      for (const [j, value] of row.entries()) if (value !== null) row[j] = value - middle;
      moved = Math.max(moved, Math.abs(middle));
    }
    const columnMiddle = median(columns) ?? 0;
    overall += columnMiddle;
    for (let j = 0; j < width; j++) columns[j] = (columns[j] as number) - columnMiddle;
    for (let j = 0; j < width; j++) {
      const middle = median(left, (row) => row[j] ?? Number.NaN) ?? 0;
      columns[j] = (columns[j] as number) + middle;
      for (const row of left) if (row[j] != null) row[j] = (row[j] as number) - middle;
      moved = Math.max(moved, Math.abs(middle));
    }
    const rowMiddle = median(rows) ?? 0;
    overall += rowMiddle;
    for (const i of rows.keys()) rows[i] = (rows[i] as number) - rowMiddle;
    if (moved < STILL) break;
  }
  return { overall, rows, columns, left };
}
