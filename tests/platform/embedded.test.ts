import { execFileSync, spawn } from 'node:child_process';
import { mkdir, mkdtemp, readFile, rm, stat, symlink, writeFile } from 'node:fs/promises';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { startEmbedded } from '../../src/platform/database/embedded.ts';
import { freePort } from '../support/free-port.ts';

async function query(url: string, sql: string): Promise<pg.QueryResult> {
  const client = new pg.Client({ connectionString: url });
  client.on('error', () => undefined);
  await client.connect();
  return client.query(sql).finally(() => client.end());
}

async function postmaster(dir: string): Promise<number> {
  return Number((await readFile(join(dir, 'pg/postmaster.pid'), 'utf8')).split('\n')[0]);
}

async function killHard(pid: number): Promise<void> {
  process.kill(pid, 'SIGKILL');
  for (;;) {
    try {
      process.kill(pid, 0);
    } catch {
      return;
    }
    await new Promise((done) => setTimeout(done, 50));
  }
}

const asRoot = process.getuid?.() === 0;

// To make a server's folder takes longer than to start one on it: it is made once, and each test has a copy.
describe('the embedded server', () => {
  let made: string;
  let dir: string;
  beforeAll(async () => {
    made = await mkdtemp(join(tmpdir(), 'evenwater-embedded-'));
    await (await startEmbedded(made)).stop();
  });
  afterAll(() => rm(made, { recursive: true, force: true }));
  beforeEach(async () => {
    dir = await mkdtemp(join(tmpdir(), 'evenwater-embedded-'));
    execFileSync('cp', ['-a', `${made}/.`, dir]);
  });
  afterEach(() => rm(dir, { recursive: true, force: true }));

  test('keeps what was committed over a kill in mid-write, and starts again by itself', async () => {
    const first = await startEmbedded(dir);
    await query(first.url, 'CREATE TABLE note (n int)');
    await query(first.url, 'INSERT INTO note SELECT generate_series(1, 1000)');
    const writing = query(first.url, 'INSERT INTO note SELECT n FROM note, pg_sleep(0.01)').catch(
      () => 'cut off',
    );
    await killHard(await postmaster(dir));
    await writing;
    const second = await startEmbedded(dir);
    const { rows } = await query(second.url, 'SELECT count(*)::int AS n FROM note');
    await second.stop();
    expect(rows[0].n % 1000).toBe(0);
    expect(rows[0].n).toBeGreaterThanOrEqual(1000);
  });

  test('is taken over when a killed service left it running', async () => {
    const first = await startEmbedded(dir);
    const before = await postmaster(dir);
    const second = await startEmbedded(dir);
    expect(second.url).toBe(first.url);
    expect(await postmaster(dir)).toBe(before);
    await second.stop();
  });

  test('is left alone by a copy of its folder that was made while it ran', async () => {
    const first = await startEmbedded(dir);
    const copy = `${dir}-copy`;
    execFileSync('cp', ['-a', dir, copy]);
    try {
      await expect(startEmbedded(copy)).rejects.toThrow(
        /was copied from .* while the database there was running/,
      );
      const port = new URL(first.url).port;
      await first.stop();
      const second = await startEmbedded(copy);
      expect(new URL(second.url).port).not.toBe(port);
      await second.stop();
    } finally {
      await rm(copy, { recursive: true, force: true });
    }
  });

  test('is found again where its folder is reached by another name', async () => {
    const first = await startEmbedded(dir);
    const alias = `${dir}-alias`;
    await symlink(dir, alias);
    try {
      expect((await startEmbedded(alias)).url).toBe(first.url);
    } finally {
      await rm(alias);
      await first.stop();
    }
  });

  test('starts over a stale postmaster.pid whose number now belongs to another program', async () => {
    const first = await startEmbedded(dir);
    const file = join(dir, 'pg/postmaster.pid');
    const lines = (await readFile(file, 'utf8')).split('\n');
    await first.stop();
    const stranger = spawn('sleep', ['60']);
    await writeFile(file, [String(stranger.pid), ...lines.slice(1)].join('\n'));
    const second = await startEmbedded(dir);
    expect((await query(second.url, 'SELECT 1 AS one')).rows).toEqual([{ one: 1 }]);
    await second.stop();
    stranger.kill();
  });

  test('takes another port where somebody took the one that was free a moment ago', async () => {
    const stranger = createServer();
    await new Promise<void>((done) => stranger.listen(0, '127.0.0.1', done));
    const taken = (stranger.address() as AddressInfo).port;
    const ports = [taken, await freePort()];
    const free = async () => ({ host: '127.0.0.1', port: ports.shift() ?? 0 });
    const server = await startEmbedded(dir, { free });
    expect(ports).toEqual([]);
    expect((await query(server.url, 'SELECT 1 AS one')).rows).toEqual([{ one: 1 }]);
    await server.stop();
    stranger.close();
  });

  test('takes a folder whose name has spaces, quotes and letters beyond ASCII', async () => {
    const server = await startEmbedded(join(dir, "my farm's água 珊瑚"));
    expect((await query(server.url, "SELECT lower('ÁGUA') AS word")).rows).toEqual([{ word: 'água' }]);
    await server.stop();
  });

  test.runIf(asRoot)(
    'starts under root where only root may enter, and goes on as whom its data belong to',
    async () => {
      const closed = join(dir, 'home');
      await mkdir(closed, { mode: 0o700 });
      const first = await startEmbedded(join(closed, 'data'));
      await query(first.url, 'CREATE TABLE note (n int)');
      await first.stop();
      const { uid } = await stat(join(closed, 'data/pg'));
      expect(uid).not.toBe(0);
      const second = await startEmbedded(join(closed, 'data'));
      expect((await query(second.url, 'SELECT * FROM note')).rows).toEqual([]);
      await second.stop();
    },
  );

  test('says what stopped it in the words of the server', async () => {
    const first = await startEmbedded(dir);
    await first.stop();
    await writeFile(join(dir, 'pg/postgresql.conf'), 'shared_buffers = not-a-size\n');
    await expect(startEmbedded(dir)).rejects.toThrow(/does not start\..*invalid value.*"shared_buffers"/);
  });
});
