/** What a cell may hold; null is an empty cell. */
export type Cell = string | number | null;

/** Rows as RFC 4180 has them: commas, CRLF after each, quotes around what needs them and doubled within. */
export function csvText(rows: readonly (readonly Cell[])[]): string {
  return rows.map((row) => `${row.map(cell).join(',')}\r\n`).join('');
}

function cell(value: Cell): string {
  const text = value === null ? '' : String(value);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
