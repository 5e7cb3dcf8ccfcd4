import { existsSync, readFileSync } from 'node:fs';
import { relative } from 'node:path';

/** What a run of tests gave, as the runner writes it. */
export interface Report {
  testResults: readonly FileResult[];
}

interface FileResult {
  name: string;
  /** 'failed' also where the file or what it begins with broke, so that none of its tests ran. */
  status: string;
  assertionResults: readonly { fullName: string; status: string }[];
}

/** How a run ended, in tests; a file that broke before its tests ran is one that failed. */
export interface Outcome {
  passed: number;
  failed: number;
  skipped: number;
}

/** The report in a file; null where the run broke before it wrote one. */
export const readReport = (file: string): Report | null =>
  existsSync(file) ? (JSON.parse(readFileSync(file, 'utf8')) as Report) : null;

/** The files of a run in which something failed, from the folder `root` on. */
export const failedFiles = ({ testResults }: Report, root: string): string[] =>
  testResults.filter(({ status }) => status === 'failed').map(({ name }) => relative(root, name));

/** A run after which the files that failed were run once more: of these, what the second run gave. */
export function mergedReport(first: Report, again: Report): Report {
  const second = new Map(again.testResults.map((file) => [file.name, file]));
  return { testResults: first.testResults.map((file) => second.get(file.name) ?? file) };
}

/** The tests that failed at first and passed when they were run once more; a file that broke by its name alone. */
export function unsteadyTests(first: Report, again: Report, root: string): string[] {
  const passed = again.testResults.filter(({ status }) => status === 'passed').map(({ name }) => name);
  return first.testResults
    .filter(({ name, status }) => status === 'failed' && passed.includes(name))
    .flatMap(({ name, assertionResults }) => {
      const failed = assertionResults.filter(({ status }) => status === 'failed');
      const file = relative(root, name);
      return failed.length === 0 ? [file] : failed.map(({ fullName }) => `${file}: ${fullName}`);
    });
}

/** How a run ended; without a report, as one that failed. */
export function outcomeOf(report: Report | null): Outcome {
  if (report === null) return { passed: 0, failed: 1, skipped: 0 };
  const tests = report.testResults.flatMap(({ assertionResults }) => assertionResults);
  const count = (status: string) => tests.filter((test) => test.status === status).length;
  const broken = report.testResults.filter(
    ({ status, assertionResults }) =>
      status === 'failed' && !assertionResults.some((test) => test.status === 'failed'),
  );
  const [passed, failed] = [count('passed'), count('failed')];
  return { passed, failed: failed + broken.length, skipped: tests.length - passed - failed };
}
