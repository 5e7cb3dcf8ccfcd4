/**
 * The tablet's queue and the service under faults, by seeds: `npm run simulate` runs 10,000, `npm run simulate -- 500`
 * so many, `npm run simulate -- 500 20000` so many from that seed on. `npm run simulate -- 1 4711` tells one seed again.
 */
import { type Counted, simulate } from './simulation/world.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const [count = 10_000, first = 1] = process.argv.slice(2).map(Number);

const from = performance.now();
const sum: Partial<Counted> = {};
let bad = 0;
for (let seed = first; seed < first + count; seed++) {
  const { faults, counted } = await simulate(seed);
  for (const [name, n] of Object.entries(counted) as [keyof Counted, number][])
    sum[name] = (sum[name] ?? 0) + n;
  if (faults.length === 0) continue;
  bad += 1;
  if (bad <= 10) say(`seed ${seed}: ${faults.join('; ')}. Again: npm run simulate -- 1 ${seed}`);
}
const counts = Object.entries(sum).map(([name, n]) => `${n} ${name}`);
say(`${count} seeds in ${((performance.now() - from) / 1000).toFixed(0)} s: ${counts.join(', ')}.`);
say(bad === 0 ? 'Nothing lost, doubled or out of order.' : `${bad} seeds failed.`);
process.exitCode = bad === 0 ? 0 : 1;
