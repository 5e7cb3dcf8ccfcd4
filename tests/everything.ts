// npm test: everything, with the set-up a bare machine needs. Each step's result is said; the first steps are cheap, and
// run beside each other, since each has work for one core.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ensureChromium } from './support/chromium.ts';
import { publishedTable } from './support/published-table.ts';

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

interface Report {
  numPassedTests: number;
  numFailedTests: number;
  numFailedTestSuites: number;
  numPendingTests: number;
  numTodoTests: number;
}

function readReport(file: string): Report | null {
  return existsSync(file) ? (JSON.parse(readFileSync(file, 'utf8')) as Report) : null;
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
const reportFile = join(scratch, 'report.json');
const publishedFile = join(scratch, 'published.jsonl');

const passedChecks = (await Promise.all(checks.map(check))).filter(Boolean).length;
const chromium = await chromiumPath();
const reporters = ['--reporter=default', '--reporter=json', `--outputFile.json=${reportFile}`];
const vitest = {
  name: 'tests',
  command: bin('vitest'),
  args: ['run', '-c', 'tests/vitest.config.ts', ...reporters],
};
const env = {
  ...process.env,
  EVENWATER_PUBLISHED_LOG: publishedFile,
  ...(chromium === null ? {} : { EVENWATER_CHROMIUM: chromium }),
};
const testsPassed = run(vitest, env);

say(publishedTable(publishedFile));
const report = readReport(reportFile);
const skipped = (report?.numPendingTests ?? 0) + (report?.numTodoTests ?? 0);
if (skipped > 0) say(`FAILED: ${skipped} tests were skipped`);
const failedChecks = checks.length - passedChecks + (chromium === null ? 1 : 0) + (skipped > 0 ? 1 : 0);
const failedTests = report?.numFailedTests ?? 1;
const failed = failedChecks + failedTests + (testsPassed || failedTests > 0 ? 0 : 1);
rmSync(scratch, { recursive: true, force: true });
say(`${(report?.numPassedTests ?? 0) + passedChecks} passed, ${failed} failed`);
process.exitCode = failed === 0 ? 0 : 1;
