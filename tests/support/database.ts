import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { inject } from 'vitest';
import type { PrismaClient } from '../../src/generated/prisma/client.ts';
import { OneQueryAtATime } from '../../src/platform/database/adapter.ts';
import { connect, type Database, prismaOn } from '../../src/platform/database.ts';
import { lend } from './lend.ts';

// The driver warns of it once and will refuse it (pg 9): uncaught, it fails the run and names the file.
process.on('warning', ({ message }) => {
  if (message.includes('already executing a query')) throw new Error(message);
});

// Prisma's client reads the whole model when it is made and learns queries as it goes, which takes longer than many a test:
// one that a database is done with goes on with the next.

class Movable extends OneQueryAtATime {
  #connected: object | null = null;

  override async connect() {
    const adapter = await super.connect();
    this.#connected = adapter;
    return adapter;
  }

  goTo(pool: pg.Pool): void {
    Object.assign(this, { externalPool: pool, config: pool.options });
    if (this.#connected !== null) Object.assign(this.#connected, { client: pool });
  }
}

interface Client {
  adapter: Movable;
  db: PrismaClient;
}

const unusedClients: Client[] = [];

function newClient(): Client {
  // It connects when it is first asked.
  const adapter = new Movable({});
  return { adapter, db: prismaOn(adapter) };
}

/** A connection to the server itself, on which databases are made. End it. */
export async function adminClient(): Promise<pg.Client> {
  const client = new pg.Client({ connectionString: inject('templateUrl').replace(/\/[^/]*$/, '/postgres') });
  await client.connect();
  return client;
}

/**
 * Makes, renames or drops a database. The server waits 5 s until whoever was on it has left, which is too short on a busy
 * machine: it is asked again until they have.
 */
export async function onceAlone(client: pg.Client, sql: string): Promise<void> {
  for (;;) {
    try {
      await client.query(sql);
      return;
    } catch (error) {
      if ((error as { code?: string }).code !== isInUse) throw error;
    }
  }
}

/** Code of PostgreSQL: somebody is on the database. */
const isInUse = '55006';

/** Makes, renames or drops a database, see {@link onceAlone}, on a connection of its own. */
export async function onServer(sql: string): Promise<void> {
  const client = await adminClient();
  await onceAlone(client, sql).finally(() => client.end());
}

/** A database of a test file's own: `close` drops it, `disconnect` leaves it on the server under its `name`. */
export interface TestDatabase extends Database {
  name: string;
  disconnect(): Promise<void>;
  /** Pool and client under other names, for one file: once they are taken back, what it left at work reaches nothing. */
  lendOut(): Pick<Database, 'pool' | 'db'> & { takeBack(): void };
}

/**
 * A database of the test file's own, cloned from a template: by default the one that is only migrated. Its files are
 * copied: through the log, page by page, took twice as long.
 */
export async function freshDatabase(template = 'template_evenwater'): Promise<TestDatabase> {
  const name = `test_${randomUUID().replaceAll('-', '')}`;
  await onServer(`CREATE DATABASE ${name} TEMPLATE ${template} STRATEGY FILE_COPY`);
  return connectTo(name);
}

/** The tests ask so many queries, each so seldom, that planning would take longer than all else: each is planned once. */
const everyQuery = { askedBefore: 0, mostNames: 1_000 };

function connectTo(name: string): TestDatabase {
  const client = unusedClients.pop() ?? newClient();
  let revoke = () => {};
  const clientOn = (pool: pg.Pool) => {
    client.adapter.goTo(pool);
    // Ending the client's connection would have it read its model again: the pool ends, and that is all it had.
    const lent = lend(client.db, { $disconnect: async () => {} });
    revoke = lent.revoke;
    return lent.proxy;
  };
  const url = inject('templateUrl').replace(/\/[^/]*$/, `/${name}`);
  const database = connect(url, 6, clientOn, everyQuery);
  const disconnect = async () => {
    await database.close();
    revoke();
    unusedClients.push(client);
  };
  const close = async () => {
    await disconnect();
    await onServer(`DROP DATABASE ${name} WITH (FORCE)`);
  };
  const lendOut = () => {
    const [pool, db] = [lend(database.pool, { end: async () => {} }), lend(database.db)];
    // What the file learns of its pool by a spy is to be all that is asked.
    client.adapter.goTo(pool.proxy);
    const takeBack = () => {
      for (const { revoke } of [pool, db]) revoke();
      client.adapter.goTo(database.pool);
    };
    return { pool: pool.proxy, db: db.proxy, takeBack };
  };
  return { ...database, name, disconnect, close, lendOut };
}
