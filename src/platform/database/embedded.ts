import { execFile, spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { chown, mkdir, open, readFile, rename, rm, stat, statfs, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { basename, dirname, join, resolve } from 'node:path';
import { promisify } from 'node:util';
import { type Binaries, findBinaries } from './binaries.ts';
import { onConnection } from './connection.ts';
import { chooseRunner, type Runner, type User } from './runner.ts';

const run = promisify(execFile);

/** A running PostgreSQL of our own. */
export interface EmbeddedServer {
  /** Connection string of the database `evenwater` on it. */
  url: string;
  isUp(): Promise<boolean>;
  /** Starts it again on the same port, where it has gone. @throws Error when it does not start */
  restart(): Promise<void>;
  stop(): Promise<void>;
}

interface Address {
  host: string;
  port: number;
}

/** The server's programs, and who runs them. */
interface Programs {
  binaries: Binaries;
  runner: Runner;
  /** Whom the folder is given to, where root starts the server. */
  owner: User | null;
}

interface Cluster {
  dir: string;
  password: string;
  /** Looked for when first needed, since it takes several processes: a running server is taken over without them. */
  programs(): Promise<Programs>;
}

/** A port that is free, on 127.0.0.1 or, on a machine that speaks only IPv6, on ::1. */
async function freeAddress(): Promise<Address> {
  const server = createServer();
  const listenOn = (host: string) =>
    new Promise<void>((done, failed) => {
      server.once('error', failed);
      server.listen(0, host, done);
    });
  await listenOn('127.0.0.1').catch(() => listenOn('::1'));
  const address = server.address();
  await new Promise((done) => server.close(done));
  if (address === null || typeof address === 'string') throw new Error('no port to be had');
  return { host: address.address, port: address.port };
}

async function exists(path: string): Promise<boolean> {
  return stat(path).then(
    () => true,
    () => false,
  );
}

/**
 * Runs a server program to its end. What it says goes to a file, since pg_ctl's child would hold a pipe open.
 * @throws Error with the last that it said
 */
async function execute(cluster: Cluster, name: keyof Binaries, args: string[]): Promise<void> {
  const { binaries, runner } = await cluster.programs();
  const { prefix, uid, gid } = runner;
  const program = binaries[name];
  const [command, ...rest] = [...prefix, program, ...args] as [string, ...string[]];
  const who = uid === undefined || gid === undefined ? {} : { uid, gid };
  const said = join(cluster.dir, `${basename(program)}.log`);
  const file = await open(said, 'w');
  try {
    const child = spawn(command, rest, { stdio: ['ignore', file.fd, file.fd], cwd: cluster.dir, ...who });
    const code = await new Promise<number | null>((done, failed) => {
      child.on('error', failed);
      child.on('close', done);
    });
    if (code === 0) return;
  } finally {
    await file.close();
  }
  throw new Error(
    `The database in ${cluster.dir} does not start. ${basename(program)} says: ${await lastLines(said)}`,
  );
}

/** The end of what a program said, in one line. */
async function lastLines(file: string, count = 4): Promise<string> {
  const text = await readFile(file, 'utf8').catch(() => '');
  const lines = text.split('\n').filter((line) => line.trim() !== '');
  return lines.slice(-count).join(' / ');
}

/** What a new database takes with room to begin to work (own choice; an empty one is about 40 MB, its log 64). */
const leastFreeMb = 200;

/** @throws Error in a sentence where the disk is too full for a new database */
async function checkSpace(dir: string): Promise<void> {
  const { bavail, bsize } = await statfs(dir);
  const freeMb = Math.floor((bavail * bsize) / 1e6);
  if (freeMb < leastFreeMb)
    throw new Error(
      `The disk that holds ${dir} has ${freeMb} MB left, and a new database wants ${leastFreeMb}. Make room, or set EVENWATER_DATA to a folder on another disk.`,
    );
}

async function initialise(cluster: Cluster): Promise<void> {
  await checkSpace(cluster.dir);
  const passwordFile = join(cluster.dir, 'database.password');
  const { owner } = await cluster.programs();
  if (owner !== null) await chown(passwordFile, owner.uid, owner.gid);
  await execute(cluster, 'initdb', [
    `--pgdata=${join(cluster.dir, 'pg.new')}`,
    '--auth=scram-sha-256',
    '--username=evenwater',
    `--pwfile=${passwordFile}`,
    '--encoding=UTF8',
    // PostgreSQL's own C.UTF-8: a machine may lack every locale.
    '--locale=C',
    '--locale-provider=builtin',
    '--builtin-locale=C.UTF-8',
  ]);
  await rename(join(cluster.dir, 'pg.new'), join(cluster.dir, 'pg'));
}

async function commandOf(pid: number): Promise<string> {
  try {
    return await readFile(`/proc/${pid}/cmdline`, 'utf8');
  } catch {
    return run('ps', ['-o', 'command=', '-p', String(pid)]).then(
      (out) => out.stdout,
      () => '',
    );
  }
}

/** Whether two paths are one folder, under whatever names. */
async function isSameFolder(one: string, other: string): Promise<boolean> {
  const [a, b] = await Promise.all([stat(one), stat(other).catch(() => null)]);
  return b !== null && a.dev === b.dev && a.ino === b.ino;
}

/**
 * What a postmaster.pid in the data folder means: the address of a server that still runs there (left by a killed
 * process), or null. A stale one is removed: PostgreSQL itself would refuse to start when its number has meanwhile
 * gone to another program.
 * @throws Error where the server that it names works in another folder: this one was copied while it ran
 */
async function runningAt(cluster: Pick<Cluster, 'dir'>): Promise<Address | null> {
  const folder = join(cluster.dir, 'pg');
  const file = join(folder, 'postmaster.pid');
  const lines = await readFile(file, 'utf8').then(
    (text) => text.split('\n'),
    () => null,
  );
  if (lines === null) return null;
  const pid = Number(lines[0]);
  const alive = pid > 0 && (await commandOf(pid)).includes('postgres');
  if (alive && (await isSameFolder(folder, lines[1] ?? '')))
    return { port: Number(lines[3]), host: lines[5]?.trim() || '127.0.0.1' };
  if (alive)
    throw new Error(
      `${cluster.dir} was copied from ${dirname(lines[1] ?? '')} while the database there was running, and such a copy may be torn. Stop that service and copy the folder again.`,
    );
  await rm(file, { force: true });
  return null;
}

/**
 * Of data that may be lost nothing is written twice, and nobody vacuums: a vacuum that is slow to leave a database on a busy
 * machine keeps it from being copied. Several programs that each take two pools work on one such server.
 */
const unsafe =
  '-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c autovacuum=off -c max_connections=300';

async function startServer(cluster: Cluster, { host, port }: Address, durable: boolean): Promise<void> {
  const safety = durable ? '-c fsync=on' : unsafe;
  const options = `-p ${port} -c listen_addresses=${host} -c unix_socket_directories='' ${safety}`;
  const log = join(cluster.dir, 'server.log');
  const args = ['start', '-w', '-t', '60', '-D', join(cluster.dir, 'pg'), '-l', log, '-o', options];
  await execute(cluster, 'pg_ctl', args).catch(async (error: Error) => {
    throw new Error(`${error.message} / ${log}: ${await lastLines(log)}`);
  });
}

/** Ports that are tried: between finding one and taking it, any other program may. */
const portsTried = 5;

/** Starts the server on a port that is free. @throws Error when it does not start */
async function startWhereFree(
  cluster: Cluster,
  durable: boolean,
  freeAddress: () => Promise<Address>,
): Promise<Address> {
  for (let tries = 1; ; tries++) {
    const address = await freeAddress();
    try {
      await startServer(cluster, address, durable);
      return address;
    } catch (error) {
      const isTaken = error instanceof Error && error.message.includes('could not create any TCP/IP sockets');
      if (!isTaken || tries >= portsTried) throw error;
    }
  }
}

async function ensureDatabase(url: (name: string) => string): Promise<void> {
  await onConnection(url('postgres'), async (client) => {
    const found = await client.query("SELECT 1 FROM pg_database WHERE datname = 'evenwater'");
    if (found.rowCount === 0) await client.query('CREATE DATABASE evenwater');
  });
}

async function findPrograms(dir: string): Promise<Programs> {
  const binaries = await findBinaries();
  const { runner, owner } = await chooseRunner(binaries.initdb, dir);
  if (owner !== null) await chown(dir, owner.uid, owner.gid);
  return { binaries, runner, owner };
}

async function openCluster(dir: string): Promise<Cluster> {
  await mkdir(dir, { recursive: true });
  let found: Promise<Programs> | undefined;
  const programs = () => {
    found ??= findPrograms(dir);
    return found;
  };
  const passwordFile = join(dir, 'database.password');
  if (!(await exists(passwordFile))) {
    await writeFile(passwordFile, `${randomBytes(24).toString('hex')}\n`, { mode: 0o600 });
  }
  const cluster = { dir, password: (await readFile(passwordFile, 'utf8')).trim(), programs };
  if (!(await exists(join(dir, 'pg')))) {
    await rm(join(dir, 'pg.new'), { recursive: true, force: true });
    await initialise(cluster);
  }
  return cluster;
}

const urlOf = (cluster: Pick<Cluster, 'password'>, { host, port }: Address, name: string) =>
  `postgresql://evenwater:${cluster.password}@${host.includes(':') ? `[${host}]` : host}:${port}/${name}`;

/** The address of the service's database where its server runs now, else null. Nothing is started. */
export async function runningUrl(dataDir: string): Promise<string | null> {
  const dir = resolve(dataDir);
  if (!(await exists(join(dir, 'pg', 'postmaster.pid')))) return null;
  const address = await runningAt({ dir });
  if (address === null) return null;
  const password = (await readFile(join(dir, 'database.password'), 'utf8')).trim();
  return urlOf({ password }, address, 'evenwater');
}

/**
 * Starts (or takes over) a real PostgreSQL from npm whose data lie in `dataDir`, on a port of this machine alone that is free.
 * It runs in a session of its own, so that Ctrl-C in the terminal reaches only the service, which then stops it last.
 * A server that a killed process left behind is taken over; a stale postmaster.pid is cleared away.
 * @param options durable: false only for data that may be lost (tests): a crash of the machine can then spoil them;
 * `free` finds a port that nobody listens on
 * @throws Error with the path of the server's log when it does not start
 */
export async function startEmbedded(
  dataDir: string,
  { durable = true, free = freeAddress }: { durable?: boolean; free?: () => Promise<Address> } = {},
): Promise<EmbeddedServer> {
  const cluster = await openCluster(resolve(dataDir));
  const left = await runningAt(cluster);
  const address = left ?? (await startWhereFree(cluster, durable, free));
  const url = (name: string) => urlOf(cluster, address, name);
  const stopServer = () =>
    execute(cluster, 'pg_ctl', ['stop', '-w', '-m', 'fast', '-D', join(cluster.dir, 'pg')]);
  try {
    await ensureDatabase(url);
  } catch (error) {
    await stopServer();
    throw error;
  }
  return {
    url: url('evenwater'),
    isUp: async () => (await runningAt(cluster)) !== null,
    restart: async () => {
      if ((await runningAt(cluster)) === null) await startServer(cluster, address, durable);
    },
    stop: stopServer,
  };
}
