import { parseDateAndTime } from './dates.rules.ts';

/** How many cells are looked at; own choice. */
const cellsMeasured = 50;

/**
 * Which column is headed "time" and holds whole dates, though no other says the day: it is day and time.
 * @param body the file's rows below its head
 * @returns its place; -1 where there is none
 */
export function dayInTime(
  columns: readonly { meaning: string }[],
  body: readonly (readonly string[])[],
): number {
  if (columns.some(({ meaning }) => meaning === 'when' || meaning === 'date')) return -1;
  const at = columns.findIndex(({ meaning }) => meaning === 'time');
  const cells = body
    .map((row) => row[at] ?? '')
    .filter((cell) => cell !== '')
    .slice(0, cellsMeasured);
  return cells.filter((cell) => parseDateAndTime(cell) !== null).length * 2 > cells.length ? at : -1;
}
