import { type Cell, cellsOf, isInGrid, slotName } from '../../farm/racks/slots.rules.ts';
import { normalizeName } from '../file/names.rules.ts';

/** A rack with its slots by name, and who stands in them. */
export interface FileRack {
  id: string;
  name: string;
  tank: string;
  systemId: string;
  rows: number;
  columns: number;
  /** Slot ids by "row:column". */
  slots: Record<string, string>;
  /** What lots are called that stand there now, by "row:column". */
  taken: Record<string, string>;
}

/** Slots of a rack as a file writes them, or why they are none. */
export type ReadSlots = { cells: Cell[] } | { fault: string };

const cellKey = ({ row, column }: Cell) => `${row}:${column}`;

function cellOf(text: string): Cell | null {
  const [, letter, number] = /^([A-Z])\s?(\d{1,3})$/.exec(text) ?? [];
  return letter === undefined ? null : { row: letter.charCodeAt(0) - 64, column: Number(number) };
}

/** One stretch: "A9", "A9-A12", "A9-12", "A1-B4" (the block between), "B" or "row B" (all of it). */
function stretch(text: string, grid: { rows: number; columns: number }): Cell[] | null {
  const [, row] = /^(?:ROW\s*)?([A-Z])$/.exec(text) ?? [];
  if (row !== undefined) {
    const number = row.charCodeAt(0) - 64;
    return cellsOf(grid.rows, grid.columns).filter((cell) => cell.row === number);
  }
  const [first = '', last = first, more] = text.split(/\s*-\s*/);
  const from = cellOf(first);
  const to = /^\d{1,3}$/.test(last) && from !== null ? { ...from, column: Number(last) } : cellOf(last);
  if (from === null || to === null || more !== undefined) return null;
  const [top, bottom] = [Math.min(from.row, to.row), Math.max(from.row, to.row)];
  const [left, right] = [Math.min(from.column, to.column), Math.max(from.column, to.column)];
  if (bottom > 26 || right > 500) return null;
  return cellsOf(bottom, right).filter((cell) => cell.row >= top && cell.column >= left);
}

/** Reads slots as people write them: "A9-A12", "row B", "A9,A10", "A9 to A12; B1", "B". */
export function readSlots(text: string, rack: { name: string; rows: number; columns: number }): ReadSlots {
  const parts = text
    .toUpperCase()
    .replace(/[\u2010-\u2015\u2212]|\b(?:TO|BIS)\b/g, '-')
    .replace(/\s(?:AND|UND|ET|EN)\s/g, ' ')
    .replace(/\s*-\s*/g, '-')
    .replace(/(?<![\p{L}\p{N}])(?:ROW|REIHE|RANGÉE|RANGEE|FILA|RIGA|RIJ)\s+/gu, 'ROW')
    .split(/[\s,;+&/]+/)
    .filter((part) => part !== '');
  const cells = new Map<string, Cell>();
  for (const part of parts) {
    const found = stretch(part, rack);
    if (found === null) return { fault: `“${text}” names no slots. Write them like A9, A9-A12, or row B.` };
    for (const cell of found) cells.set(cellKey(cell), cell);
  }
  const outside = [...cells.values()].find((cell) => !isInGrid(cell, rack));
  if (outside !== undefined || cells.size === 0) {
    const last = slotName({ row: rack.rows, column: rack.columns });
    const named = outside === undefined ? `“${text}”` : slotName(outside);
    return { fault: `${rack.name} has no slot ${named}: it goes from A1 to ${last}.` };
  }
  return { cells: [...cells.values()] };
}

/** The racks that are called so: by name, or by tank and name. */
export function racksNamed(text: string, racks: readonly FileRack[]): FileRack[] {
  const asked = normalizeName(text);
  const byName = racks.filter(({ name }) => normalizeName(name) === asked);
  return byName.length > 0
    ? byName
    : racks.filter(({ tank, name }) => normalizeName(`${tank}${name}`) === asked);
}

/** "Rack S2 A9-A12" parted into rack and slots: the longest name of a rack that it begins with; null where none. */
export function partPlace(text: string, racks: readonly FileRack[]): { rack: string; slots: string } | null {
  const words = text.trim().split(/[\s,:/]+/);
  for (let n = words.length - 1; n > 0; n -= 1) {
    const rack = words.slice(0, n).join(' ');
    if (racksNamed(rack, racks).length > 0) return { rack, slots: words.slice(n).join(' ') };
  }
  // "R5-A1": a dash parts rack and slots where what stands before it names a rack.
  for (let at = text.lastIndexOf('-'); at > 0; at = text.lastIndexOf('-', at - 1)) {
    const rack = text.slice(0, at).trim();
    if (racksNamed(rack, racks).length > 0) return { rack, slots: text.slice(at + 1).trim() };
  }
  return null;
}

/** "Upper rack A1-A3" parted before its slots, where no rack is called so; null where it has no slots at its end. */
export function partUnknownPlace(text: string): { rack: string; slots: string } | null {
  const [, rack = '', slots = ''] =
    /^(.*\p{L}{2}.*?|.*\d)[\s,:/]+([A-Z]\s?\d{1,3}(?:\s*[-–+,;&]\s*[A-Z]?\d{1,3})*)$/iu.exec(text.trim()) ??
    [];
  return rack === '' || /^[A-Z]\s?\d{1,3}$/i.test(rack) ? null : { rack, slots };
}

/** The one rack that a word for racks and a number may mean: "Regal 3" for R3. Undefined where none or several could be. */
export function rackByNumber(text: string, racks: readonly FileRack[]): FileRack | undefined {
  const [, number] =
    /^(?:racks?|regal|shelf|étag[eè]re|estante|scaffale|rek)?\s*(?:no\.?|nr\.?|#)?\s*0*(\d+)$/i.exec(text) ??
    [];
  const [only, second] = racks.filter(({ name }) => /^\D*0*(\d+)$/.exec(name)?.[1] === number);
  return number === undefined || second !== undefined ? undefined : only;
}

/** The slots of these cells, or who stands in one of them. */
export function slotsOf(cells: readonly Cell[], rack: FileRack): { ids: string[] } | { fault: string } {
  const occupied = cells.find((cell) => rack.taken[cellKey(cell)] !== undefined);
  if (occupied !== undefined)
    return {
      fault: `${rack.name}, ${slotName(occupied)} is taken by ${rack.taken[cellKey(occupied)]}. Write a free slot, or move that lot first.`,
    };
  return { ids: cells.map((cell) => rack.slots[cellKey(cell)]).filter((id) => id !== undefined) };
}
