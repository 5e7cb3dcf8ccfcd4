import type { Cell } from '../../farm/racks/slots.rules.ts';

/** A rack and the cells of it that a lot takes. */
export interface DrawnPlace {
  rows: number;
  columns: number;
  cells: readonly Cell[];
}

/** The drawing's bounds in px: a rack of common size has cells of 4; own choice. */
const bounds = { width: 64, height: 28 };

/** A rack in small with the lot's slots filled: svg markup of the class "place". Words for its place stand beside it. */
export function placeDrawing({ rows, columns, cells }: DrawnPlace): string {
  const side = Math.min(bounds.width / columns, bounds.height / rows);
  const [width, height] = [columns * side, rows * side].map((length) => Math.round(length * 10) / 10);
  const filled = cells.map(({ row, column }) => `M${column - 1} ${row - 1}h1v1h-1z`).join('');
  return `<svg class="place" width="${width}" height="${height}" viewBox="0 0 ${columns} ${rows}" aria-hidden="true"><rect class="cell" width="${columns}" height="${rows}"/><path class="taken" d="${filled}"/></svg>`;
}
