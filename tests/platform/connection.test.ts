import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { onConnection } from '../../src/platform/database/connection.ts';
import { freshDatabase, type TestDatabase } from '../support/database.ts';
import { type Started, startProcess } from '../support/processes.ts';

let database: TestDatabase;
let folder: string;
beforeAll(async () => {
  database = await freshDatabase();
  folder = await mkdtemp(join(tmpdir(), 'evenwater-connection-'));
});
afterAll(async () => {
  await database.close();
  await rm(folder, { recursive: true, force: true });
});

/** Holds what others then wait for, until the statement of one of them is seen to wait, and ends its connection. */
async function cutWhoWaits(hold: string, ofWhom: RegExp, start: () => Started): Promise<Started> {
  return onConnection(database.url, async (client) => {
    await client.query('BEGIN');
    await client.query(hold);
    const started = start();
    await expect.poll(() => cut(ofWhom), { interval: 100 }).toBe(true);
    return started;
  });
}

async function cut(ofWhom: RegExp): Promise<boolean> {
  const { rows } = await database.pool.query(
    `SELECT pg_terminate_backend(pid) FROM pg_stat_activity
      WHERE datname = current_database() AND wait_event_type = 'Lock' AND query ~ $1`,
    [ofWhom.source],
  );
  return rows.length > 0;
}

const ended = ({ child }: Started) =>
  child.exitCode ?? new Promise<number | null>((done) => child.on('close', done));

const sentence = /^The database cannot be used \(.*terminat.*\)\. Start this again once it answers\.$/i;

test('a start whose database goes while it is brought up to date ends with one sentence', async () => {
  const started = await cutWhoWaits('SELECT pg_advisory_lock(7402711)', /pg_advisory_lock/, () =>
    startProcess('src/main.ts', [], { DATABASE_URL: database.url, PORT: '0' }),
  );
  expect(await ended(started)).toBe(1);
  expect(started.output().trim()).toMatch(sentence);
});

test('a backup by hand whose database goes ends with one sentence, and leaves no torn file', async () => {
  const file = join(folder, 'farm.tar.gz');
  const started = await cutWhoWaits('LOCK TABLE reading', /COPY/, () =>
    startProcess('src/backups/commands.ts', ['backup', file], { DATABASE_URL: database.url }),
  );
  expect(await ended(started)).toBe(1);
  expect(started.output().trim()).toMatch(sentence);
  expect(await readdir(folder)).toEqual([]);
});

test('a database that does not answer is said to be away, whatever the driver says of it', async () => {
  const url = new URL(database.url);
  url.port = '1';
  await expect(onConnection(url.href, async () => 'there')).rejects.toThrow(
    /^The database cannot be used \(.*ECONNREFUSED.*\)\. Start this again once it answers\.$/,
  );
});

test('what is thrown with the database there is told as it is', async () => {
  await expect(onConnection(database.url, (client) => client.query('SELECT nothing'))).rejects.toThrow(
    'column "nothing" does not exist',
  );
});
