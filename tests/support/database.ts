import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { inject } from 'vitest';
import { connect, type Database } from '../../src/platform/database.ts';

// The driver warns of it once and will refuse it (pg 9): uncaught, it fails the run and names the file.
process.on('warning', ({ message }) => {
  if (message.includes('already executing a query')) throw new Error(message);
});

/** A connection to the server itself, on which databases are made. End it. */
export async function adminClient(): Promise<pg.Client> {
  const client = new pg.Client({ connectionString: inject('templateUrl').replace(/\/[^/]*$/, '/postgres') });
  await client.connect();
  return client;
}

async function admin(sql: string): Promise<void> {
  const client = await adminClient();
  await client.query(sql).finally(() => client.end());
}

/** A database of a test file's own: `close` drops it, `disconnect` leaves it on the server under its `name`. */
export interface TestDatabase extends Database {
  name: string;
  disconnect(): Promise<void>;
  /** The same one, connected to anew. */
  again(): TestDatabase;
}

/**
 * A database of the test file's own, cloned from a template: by default the one that is only migrated. Its files are
 * copied: through the log, page by page, took twice as long.
 */
export async function freshDatabase(template = 'template_evenwater'): Promise<TestDatabase> {
  const name = `test_${randomUUID().replaceAll('-', '')}`;
  await admin(`CREATE DATABASE ${name} TEMPLATE ${template} STRATEGY FILE_COPY`);
  return connectTo(name);
}

function connectTo(name: string): TestDatabase {
  const database = connect(inject('templateUrl').replace(/\/[^/]*$/, `/${name}`), 6);
  const close = async () => {
    await database.close();
    await admin(`DROP DATABASE ${name} WITH (FORCE)`);
  };
  return { ...database, name, disconnect: database.close, close, again: () => connectTo(name) };
}
