/** A probe is silent after so many reports that did not come, and not before these days (three hours); own choice. */
const [missedReports, leastProbeSilence] = [3, 0.125];
/** A test by hand is missing after so many usual gaps between tests, and not before these days; own choice. */
const [missedTests, leastTestSilence] = [2, 1];
/** Tests nearer together than this are one and its repeats; days. */
const repeatGap = 2 / 24;

/**
 * How many days after the last reading nothing is known of the level: a forecast ends where readings end.
 *
 * @param readings oldest first, in days; `everyDays`: how often a probe reports, null (or left out) for tests by hand
 */
export function longestSilence(readings: readonly { day: number; everyDays?: number | null }[]): number {
  const every = readings.at(-1)?.everyDays ?? null;
  if (every !== null) return Math.max(leastProbeSilence, missedReports * every);
  const gaps = readings.slice(1).map(({ day }, i) => day - (readings[i]?.day ?? day));
  return Math.max(leastTestSilence, missedTests * upperMedian(gaps.filter((gap) => gap > repeatGap)));
}

/**
 * By how much more than the test's own error a level lies off the last test (signed, in the test's unit): one standard
 * uncertainty of a test that a repeat confirmed, two of one that was made once. What is forecast starts that much nearer.
 */
export function beyondTest(level: number, test: { value: number; u: number; confirmed: boolean }): number {
  const off = level - test.value;
  const error = (test.confirmed ? 1 : 2) * test.u;
  return off - Math.max(-error, Math.min(error, off));
}

/** Of an even number the higher of the two middle ones; 0 of none. */
export function upperMedian(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? 0;
}
