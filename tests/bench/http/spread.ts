/** The middle, and what 99 of 100 are under. */
export function spread(times: readonly number[]): { median: number; p99: number } {
  const sorted = [...times].sort((a, b) => a - b);
  const at = (share: number) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? 0;
  return { median: at(0.5), p99: at(0.99) };
}
