import { expect, test } from 'vitest';
import { failedFiles, mergedReport, outcomeOf, type Report, unsteadyTests } from '../support/report.ts';

const file = (name: string, status: string, tests: Record<string, string> = {}) => ({
  ...{ name: `/farm/tests/${name}.test.ts`, status },
  assertionResults: Object.entries(tests).map(([fullName, status]) => ({ fullName, status })),
});
const report = (...testResults: Report['testResults']): Report => ({ testResults });

const first = report(
  file('water', 'passed', { tests: 'passed' }),
  file('watch', 'failed', { opens: 'passed', clears: 'failed' }),
  file('tags', 'failed', { prints: 'skipped', hangs: 'skipped' }),
);

test('a run counts its tests, and a file that broke before they ran as one that failed', () => {
  expect(outcomeOf(first)).toEqual({ passed: 2, failed: 2, skipped: 2 });
  expect(outcomeOf(null)).toEqual({ passed: 0, failed: 1, skipped: 0 });
  expect(failedFiles(first, '/farm')).toEqual(['tests/watch.test.ts', 'tests/tags.test.ts']);
});

test('what passes at a second run is named as unsteady, and what fails twice has failed', () => {
  const again = report(
    file('watch', 'failed', { opens: 'passed', clears: 'failed' }),
    file('tags', 'passed', { prints: 'passed', hangs: 'passed' }),
  );
  expect(outcomeOf(mergedReport(first, again))).toEqual({ passed: 4, failed: 1, skipped: 0 });
  expect(unsteadyTests(first, again, '/farm')).toEqual(['tests/tags.test.ts']);
  const steady = report(file('watch', 'passed', { opens: 'passed', clears: 'passed' }));
  expect(unsteadyTests(first, steady, '/farm')).toEqual(['tests/watch.test.ts: clears']);
  expect(outcomeOf(mergedReport(first, steady))).toEqual({ passed: 3, failed: 1, skipped: 2 });
});
