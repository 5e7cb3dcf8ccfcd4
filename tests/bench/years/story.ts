/** So many lines are told. */
const mostLines = 24;

/** What happened about the first trouble of a kind in a farm-year, from its beginning on. */
export function storyOf(log: readonly string[], cause: string): string[] {
  const start = log.findIndex((line) => line.includes(`: ${cause} begins`));
  const water = log[start]?.match(/Water \d/)?.[0] ?? '';
  return log
    .slice(Math.max(0, start))
    .filter((line) => line.includes(water) && !line.includes('overdue'))
    .slice(0, mostLines)
    .map((line) => `  ${line}`);
}
