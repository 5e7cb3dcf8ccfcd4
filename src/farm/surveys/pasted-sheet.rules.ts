import { type Cell, slotName } from '../racks/slots.rules.ts';

/** Pasted readings by slot name, as typed; or why they cannot be read. */
export interface PastedReadings {
  values: Record<string, string>;
  fault: string | null;
}

const slotPattern = /^([A-Z])\s?(\d{1,2})$/i;
const unreadable = (fault: string): PastedReadings => ({ values: {}, fault });

/**
 * Readings pasted from a sheet or a CSV file: either one line a slot ("B7; 84", in any order, with or without a
 * heading), or the whole grid, one line a row from the back. Cells are separated by tabs, semicolons, commas or blanks;
 * after tabs or semicolons a comma is a decimal sign. Empty cells and dashes mean not measured.
 */
export function readPasted(text: string, rack: { rows: number; columns: number }): PastedReadings {
  const lines = text.split(/\r?\n/).filter((line) => line.trim() !== '');
  if (lines.length === 0) return { values: {}, fault: null };
  const cells = lines.map((line) => splitLine(line, separatorOf(text)));
  const pairs = cells.filter(([first = '']) => slotPattern.test(first));
  return pairs.length > 0 && cells.every((line) => line.length <= 3)
    ? readPairs(cells, rack)
    : readGrid(cells, rack);
}

function separatorOf(text: string): RegExp {
  if (text.includes('\t')) return /\t/;
  if (text.includes(';')) return /;/;
  return text.includes(',') ? /,/ : /\s+/;
}

const splitLine = (line: string, separator: RegExp): string[] =>
  (separator.source === '\\s+' ? line.trim() : line)
    .split(separator)
    .map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'))
    .map((cell) => (/^[-–—]$/.test(cell) ? '' : cell));

function readPairs(cells: readonly string[][], rack: { rows: number; columns: number }): PastedReadings {
  const values: Record<string, string> = {};
  for (const [i, [slot = '', value = '']] of cells.entries()) {
    const match = slotPattern.exec(slot);
    if (match === null && i === 0) continue;
    if (match === null) return unreadable(`Line ${i + 1} does not begin with a slot, like B7.`);
    const name = `${(match[1] ?? '').toUpperCase()}${Number(match[2])}`;
    if (!isSlot(name, rack)) return unreadable(`Line ${i + 1}: there is no slot ${name} on this rack.`);
    if (name in values) return unreadable(`Line ${i + 1}: ${name} is there twice.`);
    if (value !== '') values[name] = value;
  }
  return { values, fault: null };
}

const isSlot = (name: string, { rows, columns }: { rows: number; columns: number }): boolean => {
  const [row, column] = [name.charCodeAt(0) - 64, Number(name.slice(1))];
  return row <= rows && column >= 1 && column <= columns;
};

function readGrid(
  cells: readonly string[][],
  { rows, columns }: { rows: number; columns: number },
): PastedReadings {
  const { body, rowNumbers } = withoutHeadings(cells, columns);
  const faulty = body.findIndex((line) => line.length > columns);
  if (body.length > rows || faulty !== -1) {
    const what =
      faulty === -1 ? `${body.length} lines` : `${body[faulty]?.length} cells in line ${faulty + 1}`;
    return unreadable(
      `The rack has ${rows} rows of ${columns}; pasted were ${what}. Paste a line a row, or one line a slot.`,
    );
  }
  const named = body.flatMap((line, i) =>
    line.map((value, j): [Cell, string] => [{ row: rowNumbers[i] ?? i + 1, column: j + 1 }, value]),
  );
  const filled = named.filter(([, value]) => value !== '');
  return { values: Object.fromEntries(filled.map(([cell, value]) => [slotName(cell), value])), fault: null };
}

/** Takes a line of column numbers off the top and row letters off the side, where they are there. */
function withoutHeadings(cells: readonly string[][], columns: number) {
  const top = cells[0] ?? [];
  const numbers = top.filter((cell) => cell !== '');
  const hasColumnNumbers =
    cells.length > 1 && numbers.length === columns && numbers.every((cell, i) => cell === String(i + 1));
  const rest = hasColumnNumbers ? cells.slice(1) : cells;
  const hasRowLetters = rest.length > 0 && rest.every(([first = '']) => /^[A-Z]$/i.test(first));
  return {
    body: rest.map((line) =>
      trimToRack(hasRowLetters || (hasColumnNumbers && top[0] === '') ? line.slice(1) : line, columns),
    ),
    rowNumbers: hasRowLetters ? rest.map(([first = '']) => first.toUpperCase().charCodeAt(0) - 64) : [],
  };
}

/** Without empty cells past the rack's edge, which sheets add. */
function trimToRack(line: readonly string[], columns: number): string[] {
  const cells = [...line];
  while (cells.length > columns && cells.at(-1) === '') cells.pop();
  return cells;
}

/** Fills pasted readings into the slots of the form; a slot that was typed with another value is a fault. */
export function joinPasted(
  typed: Record<string, unknown>,
  { values, fault }: PastedReadings,
): { joined: Record<string, unknown>; fault: string | null } {
  const conflict = Object.entries(values).find(([name, value]) => {
    const own = typed[name];
    return typeof own === 'string' && own.trim() !== '' && own.trim() !== value;
  });
  if (fault !== null || conflict === undefined) return { joined: { ...typed, ...values }, fault };
  const [name, value] = conflict;
  return {
    joined: { ...values, ...typed },
    fault: `${name} is typed as ${typed[name]} and pasted as ${value}. Leave one of them.`,
  };
}
