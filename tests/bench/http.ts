/**
 * How long pages take on a large farm, beside a bare Fastify page of 50 rows made with Handlebars in the same run:
 * `npm run bench:http` (`-- --small` for 20 systems and 5,000 lots, `-- --size=40,10000,1` for others: systems, lots, years).
 * Prints figures, asserts nothing. EVENWATER_BENCH_URL: a database to use (filled where it holds no farm yet, and left there);
 * an embedded one otherwise.
 */
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import fastify, { type FastifyInstance } from 'fastify';
import handlebars from 'handlebars';
import { loadCare } from '../../seed/care.ts';
import { hashPassword } from '../../src/people/passwords.ts';
import { type Database, openDatabase } from '../../src/platform/database.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, benchNow, benchOn } from '../support/service.ts';
import { type FarmSize, fillFarm } from './farm/fill.ts';
import type { Asked, Heard } from './http/asker.ts';
import { pagesOf } from './http/pages.ts';
import { processorClock, type Used } from './http/processor.ts';
import { signInOverHttp } from './http/sign-in.ts';
import { spread } from './http/spread.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
function sizeAsked(): FarmSize {
  const said = process.argv.find((word) => word.startsWith('--size='))?.slice('--size='.length);
  const [systems, lots, years] = (said ?? '').split(',').map(Number);
  if (systems && lots && years) return { systems, lots, years };
  return process.argv.includes('--small')
    ? { systems: 20, lots: 5_000, years: 3 }
    : { systems: 200, lots: 50_000, years: 3 };
}

const size = sizeAsked();
const only = process.argv.slice(2).filter((word) => !word.startsWith('--'));

const asker = new Worker(new URL('./http/asker.ts', import.meta.url));
async function ask(asked: Asked): Promise<Heard> {
  const answered = once(asker, 'message');
  asker.postMessage(asked);
  const [answer] = (await answered) as [Heard];
  return answer;
}

/** The peer: a page of 50 rows, without sessions, database or layout. */
async function startBare(): Promise<{ app: FastifyInstance; url: string }> {
  const app = fastify();
  const template = handlebars.compile(
    '<!doctype html><title>Bare</title><table>{{#each rows}}<tr><td>{{code}}</td><td>{{name}}</td><td>{{pieces}}</td><td>{{note}}</td></tr>{{/each}}</table>',
  );
  const rows = Array.from({ length: 50 }, (_, n) => ({
    code: `B${n}`,
    name: `Lot ${n}`,
    pieces: n,
    note: '',
  }));
  app.get('/', (_, reply) => reply.type('text/html').send(template({ rows })));
  return { app, url: await app.listen({ host: '127.0.0.1', port: 0 }) };
}

/** Signs the owner in over HTTP. @returns the cookie */
async function signIn(bench: Bench, address: string): Promise<string> {
  const person = { email: 'bench.owner@example.org', password: 'a long enough password' };
  const passwordHash = await hashPassword(person.password);
  await bench.service.db.account.upsert({
    where: { email: person.email },
    create: { name: 'The bench', email: person.email, passwordHash, role: 'owner' },
    update: { passwordHash },
  });
  return (await signInOverHttp(address, person)).cookie;
}

async function fill(database: Database): Promise<void> {
  const { rows } = await database.pool.query('SELECT 1 FROM site LIMIT 1');
  if (rows.length > 0) return;
  await loadCare(database.pool);
  const start = performance.now();
  await fillFarm(database.pool, size, benchNow);
  say(`filled in ${((performance.now() - start) / 1000).toFixed(0)} s`);
}

/** Requests over ten connections. */
const crowded = 50;

async function measure(url: string, cookie: string, used: () => Promise<Used>) {
  await ask({ url, cookie, connections: 1, requests: 2 });
  const alone = await ask({ url, cookie, connections: 1, requests: 15 });
  const before = await used();
  const crowd = await ask({ url, cookie, connections: 10, requests: crowded });
  const after = await used();
  const node = (after.node - before.node) / crowded;
  const database =
    after.database === null || before.database === null ? null : (after.database - before.database) / crowded;
  return { alone: spread(alone.times), crowd: spread(crowd.times), node, database, ...shapeOf(alone) };
}

const shapeOf = ({ bytes, status }: Heard) => ({ bytes, status });

const milliseconds = (value: number) => (value < 100 ? value.toFixed(1) : value.toFixed(0)).padStart(7);

async function measureAll(bench: Bench): Promise<void> {
  const owner = await bench.as('owner');
  const pages = (await pagesOf(bench, owner)).filter(
    ({ path, name }) => only.length === 0 || only.some((word) => path === word || name === word),
  );
  const address = await bench.app.listen({ host: '127.0.0.1', port: 0 });
  const cookie = await signIn(bench, address);
  const bare = await startBare();
  const used = await processorClock(bench.service.pool);
  const peer = await measure(bare.url, '', used);
  say(
    '                                 kB  median, p99 of 1 (ms)  median, p99 of 10 (ms)  times the bare page  processor a page, node and database (ms)',
  );
  const line = (name: string, found: Awaited<ReturnType<typeof measure>>) =>
    say(
      `${name.padEnd(28)} ${(found.bytes / 1000).toFixed(0).padStart(7)} ${milliseconds(found.alone.median)} ${milliseconds(found.alone.p99)}         ${milliseconds(found.crowd.median)} ${milliseconds(found.crowd.p99)} ${(found.crowd.p99 / peer.crowd.p99).toFixed(1).padStart(14)}      ${milliseconds(found.node)} ${found.database === null ? '      -' : milliseconds(found.database)}${found.status === 200 ? '' : `  answered ${found.status}`}`,
    );
  line('bare page of 50 rows', peer);
  for (const { name, path } of pages) line(name, await measure(`${address}${path}`, cookie, used));
  await bare.app.close();
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const url = process.env.EVENWATER_BENCH_URL;
const database = await openDatabase({
  EVENWATER_DATA: folder,
  ...(url === undefined ? {} : { DATABASE_URL: url }),
});
try {
  say(`${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores`);
  say(`${size.systems} systems, ${size.lots} lots, ${size.years} years of seven tests a day`);
  await fill(database);
  const bench = await benchOn(database);
  await evaluateSystems(bench.service, 'all', benchNow);
  await measureAll(bench);
  await bench.close();
} finally {
  await asker.terminate();
  await rm(folder, { recursive: true, force: true });
}
