/** Readings that stand no further apart than this are a test and its repeats; days. */
const together = 2 / 24;

/**
 * Readings in groups of a test and its repeats: each within two hours of the first of its group, and `alike` it where that is asked.
 *
 * @param readings in order of time
 */
export function groupRepeats<T extends { day: number }>(
  readings: readonly T[],
  alike: (first: T, reading: T) => boolean = () => true,
): [T, ...T[]][] {
  const groups: [T, ...T[]][] = [];
  for (const reading of readings) {
    const open = groups.at(-1);
    if (open !== undefined && reading.day - open[0].day <= together && alike(open[0], reading))
      open.push(reading);
    else groups.push([reading]);
  }
  return groups;
}

/** The mean of some values; at least one. */
export const meanOf = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;
