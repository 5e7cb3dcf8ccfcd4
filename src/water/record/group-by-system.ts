/** Rows by system, each made into a fact. */
export function groupBySystem<Row extends { systemId: string }, Fact>(
  rows: readonly Row[],
  make: (row: Omit<Row, 'systemId'>) => Fact,
): Map<string, Fact[]> {
  const grouped = Map.groupBy(rows, (row) => row.systemId);
  return new Map([...grouped].map(([id, list]) => [id, list.map(({ systemId: _, ...row }) => make(row))]));
}
