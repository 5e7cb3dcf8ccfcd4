import { join } from 'node:path';
import pg from 'pg';
import { PrismaClient } from '../generated/prisma/client.ts';
import type { Config } from './config.ts';
import { OneQueryAtATime } from './database/adapter.ts';
import { leaveBrokenOut } from './database/connection.ts';
import { openDataFolder } from './database/data-folder.ts';
import { type EmbeddedServer, runningUrl, startEmbedded } from './database/embedded.ts';
import { holdFolder } from './database/folder-lock.ts';
import { migrate } from './database/migrations.ts';
import { type Naming, planOnce } from './database/planned-once.ts';
import { supervise } from './database/supervision.ts';
import { waitForDatabase } from './database/waiting.ts';
import { transactionOptions } from './transaction.ts';
import { readersClient } from './units/reader-client.ts';

/** One pool, used by the Prisma client and by set-based reads alike. */
export interface Database {
  url: string;
  pool: pg.Pool;
  db: PrismaClient;
  close(): Promise<void>;
}

/** Works on the farm's database from a command, whether or not the service runs. */
export async function onDatabase<T>(
  config: Pick<Config, 'DATABASE_URL' | 'EVENWATER_DATA'>,
  say: (sentence: string) => void,
  work: (url: string) => Promise<T>,
): Promise<T> {
  if (config.DATABASE_URL !== undefined) return work(config.DATABASE_URL);
  const running = await runningUrl(join(config.EVENWATER_DATA, 'database'));
  if (running !== null) return work(running);
  const database = await openDatabase(config, say);
  return work(database.url).finally(() => database.close());
}

/**
 * What every connection asks for: UTC, since the adapter reads times without their offset, and no compiling of queries,
 * which takes longer than the queries of a page.
 */
const settings = '-c TimeZone=UTC -c jit=off';

/** Prisma's client on what an adapter connects to. Errors in short: in full they carry the values that were written into the log. */
export const prismaOn = (adapter: OneQueryAtATime): PrismaClient =>
  readersClient(new PrismaClient({ adapter, errorFormat: 'minimal', transactionOptions }));

/**
 * How long a connection is kept that nobody uses, ms, and any at all, s (own choice): a new one reads the catalogue and plans
 * every query anew, and on a small farm a page is opened every few minutes.
 */
const keptIdleMs = 10 * 60_000;
const keptAtMostS = 60 * 60;

/**
 * Connects to a migrated database.
 * @param clientOn gives Prisma's client on the pool
 * @param naming which queries its connections plan once, where not the usual ones
 */
export function connect(
  url: string,
  max = 10,
  clientOn = (pool: pg.Pool) => prismaOn(new OneQueryAtATime(pool)),
  naming?: Naming,
): Database {
  const kept = { idleTimeoutMillis: keptIdleMs, maxLifetimeSeconds: keptAtMostS, keepAlive: true };
  const pool = leaveBrokenOut(new pg.Pool({ connectionString: url, max, options: settings, ...kept }));
  pool.on('connect', (client) => planOnce(client, naming));
  const db = clientOn(pool);
  const close = async () => {
    await db.$disconnect();
    await pool.end();
  };
  return { url, pool, db, close };
}

/**
 * Opens the configured database, or starts the embedded one, and brings it to the newest migration.
 * Closing it stops an embedded server last.
 * @param say hears in a sentence what the start waits for, and when an embedded server went and came back
 */
export async function openDatabase(
  config: Pick<Config, 'DATABASE_URL' | 'EVENWATER_DATA'>,
  say: (sentence: string) => void = () => undefined,
): Promise<Database> {
  if (config.DATABASE_URL !== undefined) {
    await waitForDatabase(config.DATABASE_URL, say);
    await migrate(config.DATABASE_URL);
    return connect(config.DATABASE_URL);
  }
  const server = await openServer(config, say);
  try {
    await migrate(server.url);
  } catch (error) {
    await server.stop();
    throw error;
  }
  const database = connect(server.url);
  const endSupervision = supervise(server, say);
  const close = async () => {
    await endSupervision();
    await database.close();
    await server.stop();
  };
  return { ...database, close };
}

/**
 * Starts the embedded server on the service's folder, which is then this process's alone until it is stopped.
 * @param say hears in a sentence what the start waits for
 */
export async function openServer(
  config: Pick<Config, 'EVENWATER_DATA'>,
  say: (sentence: string) => void,
): Promise<EmbeddedServer> {
  const dir = join(config.EVENWATER_DATA, 'database');
  await openDataFolder(dir);
  const release = await holdFolder(dir, say);
  try {
    const server = await startEmbedded(dir);
    return { ...server, stop: () => server.stop().then(release) };
  } catch (error) {
    await release();
    throw error;
  }
}
