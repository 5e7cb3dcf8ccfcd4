/**
 * How long a file of 20,000 doses (or as many as named) takes: shown, taken, shown again and taken back, and how long the
 * service's own thread works on end meanwhile (at most 50 ms is aimed at): `npm run bench:log-file`. Prints figures.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openDatabase } from '../../src/platform/database.ts';
import { benchOn } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';
import { watchLoop } from './loop.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const count = Number(process.argv[2] ?? 20_000);
const substances = ['soda, 1 meq/mL', 'calcium chloride, 40 mg/mL Ca', 'kelp extract'];
const systems = ['Quiet water', 'Long run', 'North hall'];
/** Nine doses a day: three of each substance's system. */
const perDay = substances.length * systems.length;

function fileOf(): string {
  const lines = Array.from({ length: count }, (_, i) => {
    const day = new Date(Date.UTC(2026, 10, 20) - Math.floor(i / perDay) * 86_400_000)
      .toISOString()
      .slice(0, 10);
    return `${systems[i % 3]},${day} 08:${String(i % 60).padStart(2, '0')},"${substances[Math.floor(i / 3) % 3]}",${180 + (i % 40)},mL,Rui,row ${i}`;
  });
  return ['system,when,what,amount,unit,who,note', ...lines].join('\r\n');
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), { watching: false });
for (const name of systems) await makeSystem(bench, name);
const manager = await bench.as('manager');

async function timed(what: string, act: () => Promise<{ status: number }>): Promise<void> {
  const loop = watchLoop();
  const from = performance.now();
  const { status } = await act();
  loop.stop();
  const seconds = ((performance.now() - from) / 1000).toFixed(2).padStart(7);
  say(`${what.padEnd(16)} ${seconds} s   loop held at most ${loop.longestMs().toFixed(0)} ms   (${status})`);
}

const site = await bench.service.db.site.findFirstOrThrow();
const bring = async () => {
  const content = Buffer.from(fileOf());
  const data = {
    siteId: site.id,
    fileName: 'doses.csv',
    content,
    holds: 'doses' as const,
    reading: {},
    createdAt: new Date(),
  };
  return `/water/log-files/${(await bench.service.db.import.create({ data })).id}`;
};
const at = await bring();
say(`${count} doses`);
await timed('shown', () => manager.get(at));
await timed('taken', () => manager.post(`${at}/acceptance`, {}));
say(`${await bench.service.db.dose.count()} doses are here`);
const again = await bring();
await timed('shown again', () => manager.get(again));
const [system] = await bench.service.db.system.findMany();
await timed('sent as a file', () => manager.get(`/water/systems/${system?.id}/doses.csv`));
await timed('taken back', () => manager.post(`${at}/withdrawal`, { reason: 'a test' }));
await bench.close();
await rm(folder, { recursive: true, force: true });
