import { randomUUID } from 'node:crypto';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { isDatabaseAway } from '../../src/platform/database/away.ts';
import { waitForDatabase } from '../../src/platform/database/waiting.ts';
import { type Database, openDatabase } from '../../src/platform/database.ts';
import { type Bench, benchOn, type Visitor } from '../support/service.ts';

let folder: string;
let database: Database;
let bench: Bench;
let owner: Visitor;
const said: string[] = [];

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'evenwater-away-'));
  database = await openDatabase({ DATABASE_URL: undefined, EVENWATER_DATA: folder }, (sentence) =>
    said.push(sentence),
  );
  bench = await benchOn(database, { care: false });
  await bench.change(async (work) => {
    const site = await work.tx.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    work.record('site.created', { type: 'site', id: site.id }, { name: site.name });
  });
  owner = await bench.as('owner', 'Ines Varga');
});

afterAll(async () => {
  await bench.close();
  await rm(folder, { recursive: true, force: true });
});

const postmaster = async () =>
  Number((await readFile(join(folder, 'database/pg/postmaster.pid'), 'utf8')).split('\n')[0]);

test('a database that is killed is started again, and the service says so meanwhile and goes on by itself', async () => {
  for (let round = 0; round < 3; round++) {
    process.kill(await postmaster(), 'SIGKILL');
    const answers = [await owner.get('/farm')];
    // How long it takes is printed by a bench (npm run bench:faults).
    while (answers.at(-1)?.status !== 200) {
      await wait(100);
      answers.push(await owner.get('/farm'));
    }
    const meanwhile = answers.filter(({ status }) => status !== 200);
    expect(meanwhile.map(({ status }) => status).every((status) => status === 503)).toBe(true);
    for (const { body, headers } of meanwhile) {
      expect(body).toContain('The database cannot be used at the moment');
      expect(headers.refresh).toBe('5');
      expect(headers['retry-after']).toBe('5');
    }
    expect(
      (await owner.post('/farm/systems', { name: `Hall ${round}`, volumeL: '1000' })).status,
    ).toBeLessThan(400);
  }
  expect(said.join(' ')).toContain('The database server runs again.');
});

test('what was sent while it was away is refused with 503 and kept once when it is sent again', async () => {
  const form = {
    _csrf: /name="_csrf" value="([^"]+)"/.exec((await owner.get('/farm/systems/new')).body)?.[1] ?? '',
    _key: randomUUID(),
    name: 'Frag hall',
    volumeL: '1000',
  };
  process.kill(await postmaster(), 'SIGKILL');
  // What was connected answers for another moment.
  await expect.poll(async () => (await owner.get('/farm/systems/new')).status, { interval: 5 }).toBe(503);
  const refused = await owner.post('/farm/systems', form);
  expect(refused.status).toBe(503);
  expect(refused.body).toContain('may not have been saved: go back and send it again, it is kept only once');
  expect(refused.headers.refresh).toBeUndefined();
  expect((await owner.get('/health/live')).status).toBe(200);
  expect((await owner.get('/assets/evenwater.css')).status).toBe(200);
  expect((await owner.get('/api/move-plans', { accept: 'application/json' })).json()).toMatchObject({
    status: 503,
  });
  await expect.poll(async () => (await owner.get('/health/ready')).status).toBe(200);
  expect((await owner.get('/health')).json()).toEqual({ status: 'ok' });
  for (let times = 0; times < 2; times++) expect((await owner.post('/farm/systems', form)).status).toBe(303);
  expect(await bench.service.db.system.count({ where: { name: form.name } })).toBe(1);
});

test('a start waits for a database of one’s own and names its setting; a wrong password is said at once', async () => {
  const port = await new Promise<number>((done) => {
    const server = createServer();
    server.listen(0, '127.0.0.1', () => {
      const address = server.address();
      server.close(() => done(typeof address === 'object' && address !== null ? address.port : 0));
    });
  });
  const sentences: string[] = [];
  const waiting = waitForDatabase(`postgresql://nobody@127.0.0.1:${port}/none`, (sentence) => {
    sentences.push(sentence);
  });
  await expect.poll(() => sentences).toHaveLength(1);
  expect(sentences[0]).toBe(`Waiting for the database at 127.0.0.1:${port} (DATABASE_URL).`);
  const real = createServer((socket) => socket.end());
  await new Promise<void>((done) => real.listen(port, '127.0.0.1', done));
  real.close();
  waiting.catch(() => undefined);
  const wrong = database.url.replace(/:[^:@/]+@/, ':wrong@');
  await expect(waitForDatabase(wrong, () => undefined)).rejects.toThrow(
    /\(DATABASE_URL\) does not let the service in: .*password/,
  );
});

test.each([
  [{ code: 'ECONNREFUSED' }, true],
  [new Error('x', { cause: { code: '57P01' } }), true],
  [new Error('Connection terminated unexpectedly'), true],
  // As the driver says that nobody answered in time: one client, and a pool.
  [new Error('timeout expired'), true],
  [new Error('timeout exceeded when trying to connect'), true],
  [{ code: 'P2010', meta: { driverAdapterError: { cause: { code: '57P03' } } } }, true],
  [{ code: '23505', message: 'duplicate key value' }, false],
  [new Error('a reading of 57P01'), false],
  [null, false],
])('%o means that the database is away: %s', (error, away) => {
  expect(isDatabaseAway(error)).toBe(away);
});

test('a transaction that took longer than it may says that the database is away: the same request may be taken later', async () => {
  const late = bench.service.db.$transaction(
    async (tx) => {
      await tx.$queryRaw`SELECT pg_sleep(0.3)::text`;
      await tx.$queryRaw`SELECT 1`;
    },
    { timeout: 100 },
  );
  expect(isDatabaseAway(await late.catch((error: unknown) => error))).toBe(true);
});
