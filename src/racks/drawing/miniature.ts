import type { Cell } from '../../farm/racks/slots.rules.ts';
import { px } from '../../platform/charts/markup.ts';

/** Widest a small drawing gets, px, whatever its columns; and its largest slot. */
const MINI_ROOM = 440;
const MINI_CELL = 24;

/** A slot of a small drawing: its ground, and the class of the square in it ("" for a plain one); null where there is none. */
export interface MiniatureCell extends Cell {
  tone: string;
  dot: '' | 'now' | 'today' | 'watch' | 'free' | 'other' | null;
}

/**
 * A small drawing of a rack: light as background, a square where a lot stands, heavier with an open alert about it. One
 * path for all slots that look alike.
 */
export function drawRackMiniature(
  cells: readonly MiniatureCell[],
  { rows, columns }: { rows: number; columns: number },
  room = MINI_ROOM,
): string {
  const side = Math.min(MINI_CELL, Math.floor((room / columns) * 10) / 10);
  const [width, height] = [px(columns * side), px(rows * side)];
  return `<svg class="rack mini" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" aria-hidden="true">${miniatureMarks(cells, side)}</svg>`;
}

/** The grounds and squares of a small drawing whose slots have a side, px. */
export function miniatureMarks(cells: readonly MiniatureCell[], side: number): string {
  const grounds = [...Map.groupBy(cells, ({ tone }) => tone)].map(
    ([tone, alike]) => `<path class="cell ${tone}" d="${squares(alike, side, side)}"/>`,
  );
  const dots = [...Map.groupBy(cells, ({ dot }) => dot)].flatMap(([dot, alike]) =>
    dot === null ? [] : `<path class="dot ${dot}" d="${squares(alike, side, side * 0.5)}"/>`,
  );
  return [...grounds, hatching(cells, side), ...dots].join('');
}

/** A line across each slot that was never measured: no light is told, neither dark nor bright. */
function hatching(cells: readonly MiniatureCell[], side: number): string {
  const unknown = cells.filter(({ tone }) => tone === 'light-none');
  if (unknown.length === 0) return '';
  const lines = unknown.map(
    ({ row, column }) => `M${px((column - 1) * side)} ${px(row * side)}l${px(side)} -${px(side)}`,
  );
  return `<path class="unknown" d="${lines.join('')}"/>`;
}

/** A square in the middle of each cell, px. */
function squares(cells: readonly Cell[], side: number, size: number): string {
  const inset = (side - size) / 2;
  return cells
    .map(({ row, column }) => {
      const [x, y] = [px((column - 1) * side + inset), px((row - 1) * side + inset)];
      return `M${x} ${y}h${px(size)}v${px(size)}h-${px(size)}z`;
    })
    .join('');
}
