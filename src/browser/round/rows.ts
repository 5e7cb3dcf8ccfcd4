/**
 * Brings the rows of a list to those given, by their keys. A row that was there stays as it is, so that what somebody opened
 * or typed in it is kept; a row that is new is made.
 */
export function showRows(list: HTMLElement, rows: ReadonlyMap<string, () => HTMLElement>): void {
  const there = new Map(
    [...list.children].map((row) => [(row as HTMLElement).dataset.row ?? '', row as HTMLElement]),
  );
  for (const [key, row] of there) if (!rows.has(key)) row.remove();
  for (const [key, make] of rows) {
    if (there.has(key)) continue;
    const row = make();
    row.dataset.row = key;
    list.append(row);
  }
}
