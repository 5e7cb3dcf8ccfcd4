/**
 * How soon the watch's own rules find trouble in simulated water, and how often they speak for nothing:
 * `node tests/bench/detect.ts [--quick] [--tuning] [--only text] [--threads n] [--set rule.number=value]`. Prints
 * each world's figures as it ends, asserts nothing. `--quick` runs a tenth; `--threads` takes as many of the cores; `--tuning` takes the seeds on which limits may be tuned; `--only` runs the rows
 * whose heading has the text; `--set` tries a number in place of a rule's default, and may be given again.
 */
import { availableParallelism, cpus } from 'node:os';
import { cpuUsage, stderr, stdout } from 'node:process';
import { parseArgs } from 'node:util';
import { fullSize, planJobs, quickSize, reportSeeds, tuningSeeds } from './detect/plan.ts';
import { runAll, titleOf } from './detect/pool.ts';
import { lastLines, worldLines } from './detect/report.ts';

const { values } = parseArgs({
  options: {
    quick: { type: 'boolean', default: false },
    tuning: { type: 'boolean', default: false },
    only: { type: 'string', default: '' },
    threads: { type: 'string', default: String(availableParallelism()) },
    set: { type: 'string', multiple: true, default: [] },
  },
});

const tried: Record<string, Record<string, number>> = {};
for (const text of values.set) {
  const [, rule, number, value] = /^([a-z-]+)\.(\w+)=([\d.]+)$/.exec(text) ?? [];
  if (rule === undefined || number === undefined) throw new Error(`--set ${text}: write rule.number=value.`);
  tried[rule] = { ...tried[rule], [number]: Number(value) };
}

const seeds = { report: values.tuning ? tuningSeeds : reportSeeds, tune: tuningSeeds + 100_000_000 };
const start = performance.now();
const seconds = () => ((performance.now() - start) / 1000).toFixed(0);
const jobs = planJobs(values.quick ? quickSize : fullSize, seeds, tried).filter((job) =>
  titleOf(job).toLowerCase().includes(values.only.toLowerCase()),
);

stdout.write(`${cpus()[0]?.model ?? 'unknown CPU'}, ${cpus().length} cores, Node ${process.version}\n`);
stdout.write(
  `Seeds from ${seeds.report} (${values.tuning ? 'for tuning' : 'used for nothing but this report'}); rivals' limits tuned on seeds from ${seeds.tune}. Tried: ${values.set.join(', ') || 'the defaults'}.\n`,
);
const results = await runAll(jobs, Number(values.threads), ({ result, seconds: own }) => {
  stderr.write(`${seconds()} s: ${titleOf(result.job)} (${own.toFixed(0)} s of processor time)\n`);
  stdout.write(worldLines(result));
});
const { user, system } = cpuUsage();
stdout.write(
  `${lastLines(results)}\n${seconds()} s by the clock, ${((user + system) / 1e6).toFixed(0)} s of processor time\n`,
);
