import { type Cell, rowLetter, slotName } from '../../farm/racks/slots.rules.ts';

/** The most columns that a phone shows beside each other, 48 px each (own choice); a wider rack comes in parts. */
const COLUMNS_AT_ONCE = 7;

/** A part of a rack that a phone shows at one time. */
export interface RackPart {
  number: number;
  /** Its columns: "1–7". */
  columns: string;
}

/** One slot of the drawn rack. */
export interface Plate<Lot> {
  /** "A3" */
  slot: string;
  part: number;
  /** Null where it is free. */
  lot: Lot | null;
  /** The first of the lot's slots in its row and part: it is named there and read out there. */
  first: boolean;
}

export interface RackPlates<Lot> {
  rows: { letter: string; plates: Plate<Lot>[] }[];
  columns: { number: number; part: number }[];
  parts: RackPart[];
}

/** A rack as it hangs: its slots row by row, the lots on them, and the parts in which a narrow screen shows it. */
export function rackPlates<Lot extends { id: string; cells: readonly Cell[] }>(
  { rows, columns }: { rows: number; columns: number },
  lots: readonly Lot[],
): RackPlates<Lot> {
  const at = new Map(lots.flatMap((lot) => lot.cells.map((cell) => [slotName(cell), lot] as const)));
  const count = Math.max(1, Math.ceil(columns / COLUMNS_AT_ONCE));
  const each = Math.ceil(columns / count);
  const partOf = (column: number) => Math.ceil(column / each);
  const range = (length: number) => Array.from({ length }, (_, i) => i + 1);
  const lotAt = (row: number, column: number) => at.get(slotName({ row, column })) ?? null;
  return {
    rows: range(rows).map((row) => ({
      letter: rowLetter(row),
      plates: range(columns).map((column) => {
        const lot = lotAt(row, column);
        const goesOn = partOf(column) === partOf(column - 1) && lotAt(row, column - 1)?.id === lot?.id;
        return { slot: slotName({ row, column }), part: partOf(column), lot, first: lot !== null && !goesOn };
      }),
    })),
    columns: range(columns).map((number) => ({ number, part: partOf(number) })),
    parts: range(count).map((number) => ({
      number,
      columns: `${(number - 1) * each + 1}\u2013${Math.min(columns, number * each)}`,
    })),
  };
}
