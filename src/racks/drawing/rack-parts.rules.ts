import { rowLetter } from '../../farm/racks/slots.rules.ts';
import type { SlotOccupancy } from '../../stock/places/occupancy.ts';

/** How a rack is laid on the page: as it is, in parts beneath one another, or turned by a quarter with its back at the right. */
export const RACK_SHAPES = ['whole', 'parts', 'turned'] as const;
export type RackShape = (typeof RACK_SHAPES)[number];

export const rackShapeWords: Readonly<Record<RackShape, string>> = {
  whole: 'In one piece',
  parts: 'In parts',
  turned: 'Turned',
};

/** Columns that have room beside each other on a tablet of 1024 px. */
export const COLUMNS_ABREAST = 16;

interface Grid {
  rows: number;
  columns: number;
}

/** A part of a rack as a grid of its own; slots keep their names. */
export interface RackPart extends Grid {
  slots: readonly SlotOccupancy[];
  /** What stands at the edge, counted from 0. */
  across: (i: number) => string;
  down: (i: number) => string;
  /** "Columns 1 to 10"; '' for the whole rack. */
  words: string;
}

/** The shape a rack gets where nobody chose one: in parts where a tablet has no room for its columns. */
export const usualShape = ({ columns }: Grid): RackShape => (columns > COLUMNS_ABREAST ? 'parts' : 'whole');

/** A rack as the grids that are drawn, top to bottom. */
export function partsOf(
  slots: readonly SlotOccupancy[],
  { rows, columns }: Grid,
  shape: RackShape,
): RackPart[] {
  const [letter, number] = [(i: number) => rowLetter(i + 1), (i: number) => String(i + 1)];
  if (shape === 'whole') return [{ slots, rows, columns, across: number, down: letter, words: '' }];
  if (shape === 'turned') {
    const turned = slots.map((slot) => ({ ...slot, row: slot.column, column: rows - slot.row + 1 }));
    return [
      {
        slots: turned,
        rows: columns,
        columns: rows,
        across: (i) => letter(rows - 1 - i),
        down: number,
        words: '',
      },
    ];
  }
  const count = Math.max(2, Math.ceil(columns / COLUMNS_ABREAST));
  const wide = Math.ceil(columns / count);
  return Array.from({ length: Math.ceil(columns / wide) }, (_, part) => {
    const [before, end] = [part * wide, Math.min(columns, (part + 1) * wide)];
    const inside = slots.filter(({ column }) => column > before && column <= end);
    return {
      slots: inside.map((slot) => ({ ...slot, column: slot.column - before })),
      rows,
      columns: end - before,
      across: (i) => number(before + i),
      down: letter,
      words: `Columns ${before + 1} to ${end}`,
    };
  });
}
