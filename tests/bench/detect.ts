/**
 * How soon the watch's own rules find trouble in simulated water, and how often they speak for nothing:
 * `node tests/bench/detect.ts [--quick] [--tuning] [--only text] [--set rule.number=value]`. Prints figures, asserts
 * nothing. `--quick` runs a tenth; `--tuning` takes the seeds on which limits may be tuned; `--only` runs the rows
 * whose heading has the text; `--set` tries a number in place of a rule's default, and may be given again.
 */
import { cpus } from 'node:os';
import { cpuUsage, stderr, stdout } from 'node:process';
import { parseArgs } from 'node:util';
import { fullSize, planJobs, quickSize, reportSeeds, tuningSeeds } from './detect/plan.ts';
import { type Job, runAll } from './detect/pool.ts';
import { report } from './detect/report.ts';

const { values } = parseArgs({
  options: {
    quick: { type: 'boolean', default: false },
    tuning: { type: 'boolean', default: false },
    only: { type: 'string', default: '' },
    set: { type: 'string', multiple: true, default: [] },
  },
});

const tried: Record<string, Record<string, number>> = {};
for (const text of values.set) {
  const [, rule, number, value] = /^([a-z-]+)\.(\w+)=([\d.]+)$/.exec(text) ?? [];
  if (rule === undefined || number === undefined) throw new Error(`--set ${text}: write rule.number=value.`);
  tried[rule] = { ...tried[rule], [number]: Number(value) };
}

const titleOf = (job: Job) => (job.kind === 'light' ? 'Light step' : job.heading);
const seeds = { report: values.tuning ? tuningSeeds : reportSeeds, tune: tuningSeeds + 100_000_000 };
const start = performance.now();
const jobs = planJobs(values.quick ? quickSize : fullSize, seeds, tried).filter((job) =>
  titleOf(job).toLowerCase().includes(values.only.toLowerCase()),
);
const seconds = () => ((performance.now() - start) / 1000).toFixed(0);
const results = await runAll(jobs, (job) => stderr.write(`${seconds()} s: ${titleOf(job)}\n`));

stdout.write(`${cpus()[0]?.model ?? 'unknown CPU'}, ${cpus().length} cores, Node ${process.version}\n`);
stdout.write(
  `Seeds from ${seeds.report} (${values.tuning ? 'for tuning' : 'used for nothing but this report'}); rivals' limits tuned on seeds from ${seeds.tune}. Tried: ${values.set.join(', ') || 'the defaults'}.\n`,
);
const { user, system } = cpuUsage();
stdout.write(
  `${report(results)}\n${seconds()} s by the clock, ${((user + system) / 1e6).toFixed(0)} s of processor time\n`,
);
