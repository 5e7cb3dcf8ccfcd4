// Reads one photograph in a process of its own, which has drawn nothing: `node large-alone.ts FILE RACK`. Prints what the process
// took before and at most, and how long its loop was held.
import { readFileSync } from 'node:fs';
import type { RackToRead } from '../../../src/science/photograph/straight-rack.ts';
import { readPhotograph } from '../../../src/stock/rack-photographs/reading.ts';
import { watchLoop } from '../loop.ts';

const [file = '', rack = ''] = process.argv.slice(2);
const asked = () => ({
  file: new Uint8Array(readFileSync(file)),
  rack: JSON.parse(readFileSync(rack, 'utf8')) as RackToRead,
  ...{ focal35: null, keepOriginal: true },
});
const megabytes = (bytes: number) => Math.round(bytes / 1e6);
const before = process.memoryUsage.rss();
const loop = watchLoop();
const times: number[] = [];
const works: number[] = [];
let lots = 0;
for (let i = 0; i < 3; i++) {
  const [began, busy] = [performance.now(), process.cpuUsage()];
  lots = (await readPhotograph(asked())).lots.length;
  times.push((performance.now() - began) / 1000);
  const { user, system } = process.cpuUsage(busy);
  works.push((user + system) / 1e6);
}
loop.stop();
const list = (seconds: readonly number[]) => seconds.map((value) => value.toFixed(1)).join(', ');
// The most the process ever took, as the system counts it (kB).
const most = process.resourceUsage().maxRSS * 1024;
process.stdout.write(
  `${lots} lots, three times: ${list(times)} s (${list(works)} s of work); the process took ${megabytes(before)} MB before and at most ${megabytes(most)} MB, ${megabytes(most - before)} more; the loop was held at most ${loop.longestMs().toFixed(0)} ms\n`,
);
process.exit(0);
