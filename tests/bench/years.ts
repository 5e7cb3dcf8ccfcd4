/**
 * How many animals the service saves on a simulated farm: `npm run bench:years -- [--years n] [--minutes n] [--seed n] [--threads n]
 * [--log seed] [--policy name] [--picture file] [--without rule,rule] [--again n] [--proposed n] [--rougher] [--left-alone] [--tuning]`. Each farm-year is lived under four policies with the
 * same troubles, absences and slips: no watch, simple watches, the service, a clairvoyant; the first `--proposed` of them also by the service with tests as often as it proposes. `--log` tells one farm-year
 * day by day. After `--minutes` in all no farm-year is begun, and those that ended are told. `--without` lives the service's first `--again` years anew with each of these rules switched off in turn. `--picture` draws the pieces lost as SVG. `--rougher` and `--left-alone` live a rougher farm and one that is seldom seen to, on which nothing was tuned. `--tuning` takes
 * the seeds on which limits and rules may be tuned; those of the report are used for nothing else.
 */
import { writeFileSync } from 'node:fs';
import { availableParallelism, cpus } from 'node:os';
import { cpuUsage, stderr, stdout } from 'node:process';
import { parseArgs } from 'node:util';
import { ruleNamed } from '../../src/watch/rules/registry.ts';
import type { FarmName } from './years/hands/hands.ts';
import { pictureOf } from './years/picture.ts';
import { liveAll } from './years/pool.ts';
import { othersLine, proposedLines, reportLines, worthTelling, type Year } from './years/report.ts';
import { liveYear, type PolicyName, policyNames, proposed } from './years/run.ts';
import type { ServiceOptions } from './years/service/service.ts';
import { storyOf } from './years/story.ts';

const { values } = parseArgs({
  options: {
    years: { type: 'string', default: '200' },
    seed: { type: 'string' },
    minutes: { type: 'string', default: '600' },
    threads: { type: 'string', default: String(availableParallelism()) },
    log: { type: 'string' },
    policy: { type: 'string', default: 'the service' },
    without: { type: 'string', default: '' },
    again: { type: 'string', default: '20' },
    proposed: { type: 'string', default: '80' },
    picture: { type: 'string' },
    tuning: { type: 'boolean', default: false },
    rougher: { type: 'boolean', default: false },
    'left-alone': { type: 'boolean', default: false },
  },
});

const tuningSeeds = 920_000_000;
/** Where the seeds of each farm's report begin. */
const seedsOf: Readonly<Record<FarmName, number>> = {
  usual: 910_000_000,
  rougher: 930_000_000,
  'left alone': 940_000_000,
};
const besides: FarmName = values['left-alone'] ? 'left alone' : 'usual';
const farm: FarmName = values.rougher ? 'rougher' : besides;
const stories = 3;

const without = values.without.split(',').filter((name) => name !== '');
for (const name of without)
  if (ruleNamed(name) === undefined) throw new Error(`--without ${name}: no such rule.`);

if (values.log !== undefined) {
  const names: readonly PolicyName[] = [...policyNames, proposed];
  const policy = names.find((name) => name === values.policy);
  if (policy === undefined) throw new Error(`--policy: one of ${names.join(', ')}.`);
  stdout.write(
    `${liveYear({ seed: Number(values.log), policy, options: { without }, farm }).log.join('\n')}\n`,
  );
} else await report();

async function report(): Promise<void> {
  const from = Number(values.seed ?? (values.tuning ? tuningSeeds : seedsOf[farm]));
  const started = performance.now();
  const seconds = () => ((performance.now() - started) / 1000).toFixed(0);
  const live = (
    seeds: readonly number[],
    policies: readonly PolicyName[],
    options: ServiceOptions,
    words = '',
  ) =>
    liveAll(
      seeds.map((seed) => ({ seed, policies, options, farm })),
      { threads: Number(values.threads), until: started + Number(values.minutes) * 60_000 },
      (done) => {
        stderr.write(`${seconds()} s: ${done} of ${seeds.length}${words}\n`);
      },
    );
  stdout.write(
    `${cpus()[0]?.model ?? 'unknown CPU'}, ${cpus().length} cores, Node ${process.version}; seeds from ${from}\n`,
  );
  const seeds = Array.from({ length: Number(values.years) }, (_, i) => from + i);
  const years = (await live(seeds, policyNames, {})) as Year[];
  stdout.write(reportLines(years));
  if (values.picture !== undefined) writeFileSync(values.picture, pictureOf(years));
  const again = years.slice(0, Number(values.again)).map(({ seed }) => seed);
  for (const rule of without)
    stdout.write(
      othersLine(
        years,
        await live(again, ['the service'], { without: [rule] }, ` without ${rule}`),
        `without ${rule}`,
      ),
    );
  const beside = years.slice(0, Number(values.proposed)).map(({ seed }) => seed);
  if (beside.length > 0)
    stdout.write(proposedLines(years, await live(beside, [proposed], {}, ' with tests as proposed')));
  for (const { year, cause } of worthTelling(years, stories))
    stdout.write(`\nSeed ${year.seed}, ${cause}:\n${storyOf(year['the service'].log, cause).join('\n')}\n`);
  const { user, system } = cpuUsage();
  stdout.write(`\n${seconds()} s by the clock, ${((user + system) / 1e6).toFixed(0)} s of processor time\n`);
}
