import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { inject } from 'vitest';
import { connect, type Database } from '../../src/platform/database.ts';

async function admin(sql: string): Promise<void> {
  const client = new pg.Client({ connectionString: inject('templateUrl').replace(/\/[^/]*$/, '/postgres') });
  await client.connect();
  await client.query(sql).finally(() => client.end());
}

/** A migrated database of the test file's own, cloned from the template; dropped when closed. */
export async function freshDatabase(): Promise<Database> {
  const name = `test_${randomUUID().replaceAll('-', '')}`;
  await admin(`CREATE DATABASE ${name} TEMPLATE template_evenwater`);
  const database = connect(inject('templateUrl').replace(/\/[^/]*$/, `/${name}`), 6);
  const close = async () => {
    await database.close();
    await admin(`DROP DATABASE ${name} WITH (FORCE)`);
  };
  return { ...database, close };
}
