/**
 * How long files of up to 8 MB take to be read or refused, and how long the service's own thread works on end meanwhile
 * (processor time, so that other work on the machine adds nothing; at most 50 ms is aimed at): `npm run bench:files`.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openDatabase } from '../../src/platform/database.ts';
import { makeHall } from '../rounds/hall.ts';
import { largeFiles } from '../support/large-files.ts';
import { benchOn } from '../support/service.ts';
import { watchLoop } from './loop.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const runs = 5;

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), {
  watching: false,
  running: true,
});
const hall = await makeHall(bench);
const manager = await bench.as('manager');

say(`${'file'.padEnd(22)} ${'seconds'.padStart(8)}   loop held, ms: each of ${runs} runs`);
for (const [name, text] of largeFiles) {
  const held: number[] = [];
  let seconds = 0;
  for (let run = 0; run < runs; run++) {
    const { id } = await bench.service.db.import.create({
      data: {
        ...{ siteId: hall.siteId, fileName: 'large.csv', content: Buffer.from(text) },
        ...{ reading: {}, createdAt: new Date() },
      },
    });
    const loop = watchLoop();
    const from = performance.now();
    await manager.get(`/water/imports/${id}`);
    seconds += (performance.now() - from) / 1000 / runs;
    loop.stop();
    held.push(loop.longestMs());
  }
  say(
    `${name.padEnd(22)} ${seconds.toFixed(2).padStart(8)}   ${held.map((ms) => ms.toFixed(0).padStart(4)).join(' ')}`,
  );
}
await bench.close();
await rm(folder, { recursive: true, force: true });
