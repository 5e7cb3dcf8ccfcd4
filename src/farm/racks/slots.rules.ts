/** One cell of a rack: rows counted from the back, columns from the left, both from 1. */
export interface Cell {
  row: number;
  column: number;
}

/** A cell with the id of its slot. */
export interface RackSlot extends Cell {
  slotId: string;
}

/** "A", "B", ... for 1, 2, ... up to 26. */
export const rowLetter = (row: number): string => String.fromCharCode(64 + row);

/** "B7" */
export const slotName = ({ row, column }: Cell): string => `${rowLetter(row)}${column}`;

/** Every cell of a grid, row by row. */
export function cellsOf(rows: number, columns: number): Cell[] {
  return Array.from({ length: rows * columns }, (_, i) => ({
    row: Math.floor(i / columns) + 1,
    column: (i % columns) + 1,
  }));
}

/** True when the cell lies within the grid. */
export const isInGrid = ({ row, column }: Cell, grid: { rows: number; columns: number }): boolean =>
  row <= grid.rows && column <= grid.columns;

/** SQL: whether a row of `slot` lies within its `rack`: one that was made smaller keeps the slots that it lost. */
export const WITHIN_RACK = 'slot.row <= rack.rows AND slot."column" <= rack.columns';

/** Side of a slot, mm, where nobody entered its size (own choice: about the room one mount needs). */
export const USUAL_SLOT_MM = 50;

/** Depth in mm of the slots of one row, on a rack that falls by `slopeDeg` towards the front. */
export function slotDepthMm(
  rack: { depthMm: number; slopeDeg: number; rows: number; slotDepthMm: number | null },
  row: number,
): number {
  const fall = Math.sin((rack.slopeDeg * Math.PI) / 180) * (rack.slotDepthMm ?? USUAL_SLOT_MM);
  return rack.depthMm + (row - (rack.rows + 1) / 2) * fall;
}
