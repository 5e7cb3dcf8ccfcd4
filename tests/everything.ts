// npm test: everything, with the set-up a bare machine needs. Each step's result is said; the first steps are cheap, and
// run beside each other, since each has work for one core.
import { spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ensureChromium } from './support/chromium.ts';
import { publishedTable } from './support/published-table.ts';
import {
  failedFiles,
  mergedReport,
  outcomeOf,
  type Report,
  readReport,
  unsteadyTests,
} from './support/report.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const bin = (name: string) => join('node_modules', '.bin', name);

interface Step {
  name: string;
  command: string;
  args: string[];
}

const checks: Step[] = [
  { name: 'types', command: bin('tsc'), args: ['-p', '.'] },
  { name: 'lint and format', command: bin('biome'), args: ['check', '--error-on-warnings', '.'] },
  { name: 'structure', command: process.execPath, args: ['tests/structure/check.ts'] },
  { name: 'unused code', command: bin('knip'), args: ['--no-progress'] },
  { name: 'migrations', command: process.execPath, args: ['prisma/migration.ts', '--check'] },
];

function tell({ name }: Step, passed: boolean, began: number): boolean {
  say(`${passed ? 'passed' : 'FAILED'}: ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
  return passed;
}

function run(step: Step, env: NodeJS.ProcessEnv): boolean {
  const began = Date.now();
  const { status } = spawnSync(step.command, step.args, { stdio: 'inherit', env });
  return tell(step, status === 0, began);
}

/** Runs a step beside others: what it says follows in one piece when it ends. */
async function check(step: Step): Promise<boolean> {
  const began = Date.now();
  const child = spawn(step.command, step.args, { stdio: ['ignore', 'pipe', 'pipe'] });
  let written = '';
  for (const stream of [child.stdout, child.stderr])
    stream.setEncoding('utf8').on('data', (text: string) => (written += text));
  const passed = await new Promise<boolean>((ended) => {
    child.on('error', (error) => {
      written += `${error.message}\n`;
      ended(false);
    });
    child.on('close', (code) => ended(code === 0));
  });
  process.stdout.write(written);
  return tell(step, passed, began);
}

async function chromiumPath(): Promise<string | null> {
  try {
    return await ensureChromium();
  } catch (error) {
    say(error instanceof Error ? error.message : String(error));
    return null;
  }
}

const scratch = mkdtempSync(join(tmpdir(), 'evenwater-tests-'));
const publishedFile = join(scratch, 'published.jsonl');
const reports = { first: join(scratch, 'report.json'), again: join(scratch, 'report-again.json') };

/** Runs test files, all without a name; what was compared with published values is kept where `published` says. */
function runTests(name: string, files: readonly string[], to: string, published: string): boolean {
  const reporters = ['--reporter=default', '--reporter=json', `--outputFile.json=${to}`];
  const args = ['run', '-c', 'tests/vitest.config.ts', ...reporters, ...files];
  const path = chromium === null ? {} : { EVENWATER_CHROMIUM: chromium };
  const env = { ...process.env, EVENWATER_PUBLISHED_LOG: published, ...path };
  return run({ name, command: bin('vitest'), args }, env);
}

/** More files than these fail by no chance; they are not run again (own choice). */
const mostAgain = 3;

/** Runs the files that failed once more, with the machine to themselves; null where that says nothing. */
function runAgain(report: Report | null): Report | null {
  const files = report === null ? [] : failedFiles(report, process.cwd());
  if (files.length === 0 || files.length > mostAgain) return null;
  runTests('once more, what failed', files, reports.again, join(scratch, 'again.jsonl'));
  return readReport(reports.again);
}

const passedChecks = (await Promise.all(checks.map(check))).filter(Boolean).length;
const chromium = await chromiumPath();
const passedAtOnce = runTests('tests', [], reports.first, publishedFile);
const first = readReport(reports.first);
const again = passedAtOnce ? null : runAgain(first);

say(publishedTable(publishedFile));
const { passed, failed, skipped } = outcomeOf(first && again ? mergedReport(first, again) : first);
if (skipped > 0) say(`FAILED: ${skipped} tests were skipped`);
// A test that passes at the second run hides a race, in itself or in the service: it is named, and stops nobody else's change.
const unsteady = first && again ? unsteadyTests(first, again, process.cwd()) : [];
for (const test of unsteady) say(`UNSTEADY, passed when run once more alone: ${test}`);
// The runner may fail where no test did: an error outside of all tests.
const outside = passedAtOnce || failed > 0 || unsteady.length > 0 ? 0 : 1;
const failedInAll =
  checks.length - passedChecks + (chromium === null ? 1 : 0) + (skipped > 0 ? 1 : 0) + failed + outside;
rmSync(scratch, { recursive: true, force: true });
say(`${passed + passedChecks} passed, ${failedInAll} failed`);
process.exitCode = failedInAll === 0 ? 0 : 1;
