/**
 * What the service bears while somebody writes: `npm run bench:faults`, or only those whose names hold what is named
 * (`npm run bench:faults -- disk`). Prints for each fault how many writes were acknowledged, how many of those are lost or
 * doubled, and how many seconds it took to serve again; fails where any is lost or doubled, it took more than ten, or work
 * of a killed instance was not taken over within thirty.
 */

import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { cp, mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import pg from 'pg';
import { hashPassword } from '../../src/people/passwords.ts';
import { type EmbeddedServer, startEmbedded } from '../../src/platform/database/embedded.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { localDay } from '../../src/platform/days.ts';
import { begin, makeHall, planRound, zone } from '../rounds/hall.ts';
import { benchOn } from '../support/service.ts';
import { startStandby } from '../support/standby.ts';
import { Buyer } from './faults/buyer.ts';
import { holdEvaluations } from './faults/held-work.ts';
import { Instance } from './faults/instance.ts';
import { compareWith, type Walk, Writer } from './faults/writer.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const only = process.argv[2] ?? '';
let bad = 0;
const longestS = 10;
const longestTakeoverS = 30;
const folder = await mkdtemp(join(tmpdir(), 'evenwater-faults-'));
const ports = { one: 18_431, two: 18_432, copy: 18_433 };

/** What a fault is tried on. */
interface Ground {
  instances: Instance[];
  writer: Writer;
  /** The folder of the database's server. */
  databaseDir: string;
  server: EmbeddedServer | null;
  /** The code of a public tag. */
  tag: string;
}

interface Fault {
  name: string;
  /** Makes it, and gives the seconds until something begun after it is acknowledged, and what else is to be told. */
  make(ground: Ground): Promise<{ seconds: number; told?: string }>;
}

interface Laid extends Walk {
  tag: string;
}

async function laySite(config: { DATABASE_URL?: string; EVENWATER_DATA: string }): Promise<Laid> {
  const bench = await benchOn(await openDatabase(config), { watching: false, running: true });
  const hall = await makeHall(bench);
  const person = { email: 'nor@example.org', password: 'wet hands at the rack' };
  const passwordHash = await hashPassword(person.password);
  await bench.service.db.account.create({
    data: { name: 'Nor', email: person.email, passwordHash, role: 'hand' },
  });
  const plan = await planRound(bench, hall, { startsAt: '00:00' });
  const roundId = await begin(bench, hall, plan, localDay(new Date(), zone));
  await (await bench.as('manager')).post('/tags', { lot: hall.lots.A1.code, pieces: 1, reason: '' });
  const { token: tag } = await bench.service.db.tag.findFirstOrThrow();
  await bench.close();
  return { roundId, person, tag };
}

const postmaster = async (dir: string) =>
  Number((await readFile(join(dir, 'pg/postmaster.pid'), 'utf8')).split('\n')[0]);

async function killAndStart({ instances: [one], writer }: Ground) {
  const began = performance.now();
  await one?.kill('SIGKILL');
  one?.launch();
  const ready = one?.becomesReady().then(() => (performance.now() - began) / 1000);
  const seconds = await writer.servesAgain(began);
  const told = `ready after ${(await ready)?.toFixed(1)} s, ${one?.processorS().toFixed(1)} s of a processor`;
  return { seconds, told };
}

/** Programs that want a processor for themselves, in the way of a start: three a core where there are two (own choice). */
const busy = 6;

const onEmbedded: Fault[] = [
  { name: 'service killed (kill -9), started again', make: killAndStart },
  {
    name: `service killed, beside ${busy} busy programs`,
    make: async (ground) => {
      const programs = Array.from({ length: busy }, () => spawn(process.execPath, ['-e', 'for (;;);']));
      try {
        return await killAndStart(ground);
      } finally {
        for (const program of programs) program.kill('SIGKILL');
      }
    },
  },
  {
    name: 'embedded database killed (kill -9)',
    make: async ({ writer, databaseDir }) => {
      process.kill(await postmaster(databaseDir), 'SIGKILL');
      return { seconds: await writer.servesAgain() };
    },
  },
  {
    name: 'hot copy started beside it',
    make: async ({ writer }) => {
      const copy = join(folder, 'copy');
      // Files come and go while it is copied.
      await cp(join(folder, 'data'), copy, { recursive: true }).catch(() => undefined);
      const second = new Instance(ports.copy, { EVENWATER_DATA: copy });
      const [code] = await Promise.race([once(second.launch(), 'exit'), wait(120_000, ['none'])]);
      await second.kill('SIGKILL');
      const refused = code !== 0 && code !== 'none';
      if (!refused) throw new Error(`a hot copy was started: ${second.said}`);
      return { seconds: await writer.servesAgain(), told: 'the copy is refused' };
    },
  },
  {
    name: 'clock two days ahead, and back',
    make: async ({ instances: [one], writer }) => {
      await writeFile(join(folder, 'clock'), String(2 * 24 * 3600 * 1000));
      await writer.servesAgain();
      await wait(5000);
      const ahead = await writer.servesAgain();
      await writeFile(join(folder, 'clock'), '0');
      const began = performance.now();
      const seconds = Math.max(ahead, await writer.servesAgain());
      while (!(await one?.isReady())) await wait(200);
      return { seconds, told: `ready after ${((performance.now() - began) / 1000).toFixed(1)} s` };
    },
  },
  {
    name: '200 senders of a byte a second',
    make: async ({ writer }) => {
      let open = 0;
      const sockets = Array.from({ length: 200 }, () => {
        const socket = connect(ports.one, '127.0.0.1');
        open += 1;
        socket.on('error', () => undefined);
        socket.on('close', () => {
          open -= 1;
        });
        socket.write('POST /sign-in HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-length: 4000\r\n');
        return socket;
      });
      const drip = setInterval(() => {
        for (const socket of sockets) if (socket.writable) socket.write('x');
      }, 1000);
      writer.counted.longestMs = 0;
      const seconds = await writer.servesAgain();
      await wait(20_000);
      clearInterval(drip);
      for (const socket of sockets) socket.destroy();
      return {
        seconds,
        told: `longest write ${Math.round(writer.counted.longestMs)} ms, ${open} still open after 20 s`,
      };
    },
  },
];

const onOwnServer: Fault[] = [
  {
    name: 'all connections cut (pg_terminate_backend)',
    make: async ({ writer, server }) => {
      const client = new pg.Client({ connectionString: server?.url ?? '' });
      await client.connect();
      await client.query(
        'SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid()',
      );
      const began = performance.now();
      await client.end();
      return { seconds: await writer.servesAgain(began) };
    },
  },
  {
    name: 'database away for 30 s',
    make: async ({ writer, server, databaseDir }) => {
      process.kill(await postmaster(databaseDir), 'SIGKILL');
      await wait(30_000);
      await server?.restart();
      return { seconds: await writer.servesAgain() };
    },
  },
  {
    name: 'disk of the database full for 10 s',
    make: async ({ writer, server, databaseDir }) => {
      const filler = join(databaseDir, 'filler');
      try {
        execFileSync('dd', ['if=/dev/zero', `of=${filler}`, 'bs=1M'], { stdio: 'ignore' });
      } catch {
        // It ends where the disk does.
      }
      await wait(10_000);
      await rm(filler);
      const began = performance.now();
      // A server that gave up for want of room is started again by whoever looks after it.
      if (!(await server?.isUp())) await server?.restart();
      return { seconds: await writer.servesAgain(began) };
    },
  },
];

const besideReplica: Fault[] = [
  {
    name: 'one of two instances killed, beside a replica',
    make: async ({ writer, instances, server, tag }) => {
      const buyer = new Buyer(
        instances.map(({ address }) => address),
        tag,
      );
      const looking = buyer.run();
      const held = await holdEvaluations(server?.url ?? '', instances.length);
      const began = performance.now();
      await instances[0]?.kill('SIGKILL');
      await held.letGo();
      const seconds = await writer.servesAgain(began);
      const takenOver = await held.isDone();
      buyer.stop();
      await looking;
      const { replica, primary, failed, longestGapMs } = buyer.counted;
      if (takenOver > longestTakeoverS || replica === 0) bad += 1;
      const told = `its work taken over after ${takenOver.toFixed(1)} s; public tag: ${replica} times by the replica, ${primary} by the primary, ${failed} times the next instance was asked, longest without it ${Math.round(longestGapMs)} ms`;
      return { seconds, told };
    },
  },
];

async function tryOut(fault: Fault, ground: Omit<Ground, 'writer'>, url: string, walk: Walk): Promise<void> {
  const writer = new Writer(
    ground.instances.map(({ address }) => address),
    walk,
  );
  await writer.signIn();
  const running = writer.run();
  await wait(2000);
  const { seconds, told = '' } = await fault.make({ ...ground, writer });
  await wait(1000);
  writer.stop();
  await running;
  const pool = new pg.Pool({ connectionString: url });
  const { lost, doubled } = await compareWith(pool, writer.acknowledged);
  await pool.end();
  const well = lost === 0 && doubled === 0 && seconds <= longestS && writer.counted.serverErrors === 0;
  if (!well) bad += 1;
  say(
    [
      fault.name.padEnd(46),
      String(writer.acknowledged.length).padStart(6),
      String(lost).padStart(5),
      String(doubled).padStart(8),
      String(writer.counted.serverErrors).padStart(5),
      seconds.toFixed(1).padStart(7),
      `  ${told}`,
    ].join(' '),
  );
}

const chosen = (faults: readonly Fault[]) => faults.filter(({ name }) => name.includes(only));

async function tryOnEmbedded(faults: readonly Fault[]): Promise<void> {
  if (faults.length === 0) return;
  const EVENWATER_DATA = join(folder, 'data');
  const walk = await laySite({ EVENWATER_DATA });
  await writeFile(join(folder, 'clock'), '0');
  const one = new Instance(ports.one, {
    EVENWATER_DATA,
    CLOCK_FILE: join(folder, 'clock'),
    NODE_OPTIONS: `--import=${new URL('./faults/clock.ts', import.meta.url).pathname}`,
  });
  await one.start();
  try {
    const databaseDir = join(EVENWATER_DATA, 'database');
    const url = async () => {
      const [, , , port, , host] = (await readFile(join(databaseDir, 'pg/postmaster.pid'), 'utf8')).split(
        '\n',
      );
      const password = (await readFile(join(databaseDir, 'database.password'), 'utf8')).trim();
      return `postgresql://evenwater:${password}@${host?.trim()}:${port}/evenwater`;
    };
    for (const fault of faults)
      await tryOut(fault, { instances: [one], databaseDir, server: null, tag: walk.tag }, await url(), walk);
  } finally {
    await one.kill('SIGTERM');
  }
}

/** A small disk of its own, where this user may make one. */
async function smallDisk(): Promise<{ dir: string; isSmall: boolean; release(): void }> {
  const dir = join(folder, 'disk');
  await mkdir(dir);
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=500m', 'tmpfs', dir], { stdio: 'ignore' });
    return { dir, isSmall: true, release: () => execFileSync('umount', ['-l', dir]) };
  } catch {
    return { dir, isSmall: false, release: () => undefined };
  }
}

async function tryOnOwnServer(faults: readonly Fault[]): Promise<void> {
  if (faults.length === 0) return;
  const disk = await smallDisk();
  const databaseDir = join(disk.dir, 'database');
  await mkdir(databaseDir);
  const server = await startEmbedded(databaseDir);
  const instances: Instance[] = [];
  try {
    const config = { DATABASE_URL: server.url, EVENWATER_DATA: join(folder, 'files') };
    const walk = await laySite(config);
    instances.push(...[ports.one, ports.two].map((port) => new Instance(port, config)));
    for (const instance of instances) await instance.start();
    for (const fault of faults) {
      if (fault.name.startsWith('disk') && !disk.isSmall) {
        say(`${fault.name.padEnd(46)} left out: this user may not mount a small disk`);
        continue;
      }
      await tryOut(fault, { instances, databaseDir, server, tag: walk.tag }, server.url, walk);
    }
  } finally {
    for (const instance of instances) await instance.kill('SIGTERM');
    await server.stop().catch(() => undefined);
    disk.release();
  }
}

async function tryBesideReplica(faults: readonly Fault[]): Promise<void> {
  if (faults.length === 0) return;
  const databaseDir = join(folder, 'primary');
  await mkdir(databaseDir);
  const server = await startEmbedded(databaseDir);
  const instances: Instance[] = [];
  const config = { DATABASE_URL: server.url, EVENWATER_DATA: join(folder, 'files-beside') };
  const walk = await laySite(config);
  const standby = await startStandby(server.url, databaseDir, join(folder, 'standby'));
  try {
    const env = { ...config, DATABASE_REPLICA_URL: standby.url };
    instances.push(...[ports.one, ports.two].map((port) => new Instance(port, env)));
    for (const instance of instances) await instance.start();
    for (const fault of faults)
      await tryOut(fault, { instances, databaseDir, server, tag: walk.tag }, server.url, walk);
  } finally {
    for (const instance of instances) await instance.kill('SIGTERM');
    await standby.stop();
    await server.stop().catch(() => undefined);
  }
}

try {
  say(
    `${'while somebody writes'.padEnd(46)} ${'kept'.padStart(6)} ${'lost'.padStart(5)} ${'doubled'.padStart(8)} ${'500s'.padStart(5)} ${'again s'.padStart(7)}`,
  );
  await tryOnEmbedded(chosen(onEmbedded));
  await tryOnOwnServer(chosen(onOwnServer));
  await tryBesideReplica(chosen(besideReplica));
} finally {
  await rm(folder, { recursive: true, force: true });
}
say(bad === 0 ? 'All borne.' : `${bad} not borne.`);
process.exitCode = bad === 0 ? 0 : 1;
