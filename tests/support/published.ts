import { appendFileSync } from 'node:fs';
import { afterAll, expect, type RunnerTestSuite } from 'vitest';

/** How far a result may stand from the published value: a part of it, or a fixed distance in its own unit. */
export type Tolerance = { relative: number } | { absolute: number };

/** Collects one topic's comparisons with a published source. */
export interface PublishedCheck {
  /** Compares one result with one published value; fails the test when it stands too far off. */
  check(actual: number, expected: number, what?: string): void;
}

/** One line of the table printed after the tests. */
export interface PublishedLine {
  topic: string;
  source: string;
  count: number;
  largestRelativeDeviation: number;
  tolerance: string;
}

/**
 * Opens a comparison with a published source. Call it at the top of a test file (or of a `describe`), use
 * `check` inside its tests. When the file's tests end, one line with the number of values compared and the
 * largest relative deviation is appended to the file named by EVENWATER_PUBLISHED_LOG, if that is set.
 *
 * @param topic what is computed, as it should read in the table
 * @param source the publication or the library and version that the expected values come from
 * @param tolerance a number is a relative tolerance; for an absolute one pass `{ absolute }`
 */
export function published(topic: string, source: string, tolerance: number | Tolerance): PublishedCheck {
  const limit = typeof tolerance === 'number' ? { relative: tolerance } : tolerance;
  const line: PublishedLine = {
    topic,
    source,
    count: 0,
    largestRelativeDeviation: 0,
    tolerance:
      'relative' in limit ? `${short(limit.relative)} relative` : `${short(limit.absolute)} absolute`,
  };
  // biome-ignore lint/correctness/noEmptyPattern: vitest requires a destructured first argument
  afterAll(({}, suite) => {
    if (line.count === 0 && someWereSkipped(suite)) return;
    expect(line.count, `${topic}: no published value was compared`).toBeGreaterThan(0);
    const log = process.env.EVENWATER_PUBLISHED_LOG;
    if (log) appendFileSync(log, `${JSON.stringify(line)}\n`);
  });
  return {
    check(actual, expected, what = topic) {
      const deviation = Math.abs(actual - expected);
      line.count += 1;
      line.largestRelativeDeviation = Math.max(line.largestRelativeDeviation, relative(deviation, expected));
      const allowed = 'relative' in limit ? limit.relative * Math.abs(expected) : limit.absolute;
      const within = deviation <= allowed + rounding(expected);
      expect(within, `${what}: ${actual} where ${source} has ${expected} (tolerance ${line.tolerance})`).toBe(
        true,
      );
    },
  };
}

/** True when this run leaves tests out, as with `-t`, so that an unused topic is no fault. */
function someWereSkipped(suite: Readonly<RunnerTestSuite>): boolean {
  return suite.tasks.some((task) => (task.type === 'suite' ? someWereSkipped(task) : task.mode === 'skip'));
}

/** Relative to the expected value; a deviation from an expected 0 counts as it stands. */
function relative(deviation: number, expected: number): number {
  return expected === 0 ? deviation : deviation / Math.abs(expected);
}

/** A number as it should read in the table. */
function short(value: number): string {
  return `${Number(value.toPrecision(2))}`;
}

/** What binary floating point adds to a decimal comparison. */
function rounding(expected: number): number {
  return 4 * Number.EPSILON * Math.max(1, Math.abs(expected));
}
