import { spawn } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { setTimeout as wait } from 'node:timers/promises';
import pg from 'pg';
import { expect, inject, test } from 'vitest';
import { migrate } from '../../src/platform/database/migrations.ts';

const module = new URL('../../src/platform/database/migrations.ts', import.meta.url).href;

/** Migrates in a process of its own, which is killed after a while. */
async function killedMigration(url: string, afterMs: number): Promise<void> {
  const code = `const { migrate } = await import('${module}'); console.log('begins'); await migrate('${url}');`;
  const child = spawn(process.execPath, ['--input-type=module', '-e', code], {
    stdio: ['ignore', 'pipe', 'ignore'],
  });
  const gone = new Promise((done) => child.once('exit', done));
  await new Promise((done) => child.stdout.once('data', done));
  await wait(afterMs);
  child.kill('SIGKILL');
  await gone;
}

/** Every column with its type, and every constraint, index and trigger by name. */
async function shapeOf(url: string): Promise<unknown[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const { rows } = await client.query(`
    SELECT table_name || '.' || column_name || ' ' || data_type AS part FROM information_schema.columns WHERE table_schema = 'public'
    UNION ALL SELECT conname FROM pg_constraint
    UNION ALL SELECT tgname FROM pg_trigger WHERE NOT tgisinternal
    UNION ALL SELECT indexname FROM pg_indexes WHERE schemaname = 'public'
    ORDER BY 1`);
  await client.end();
  return rows;
}

test('a database whose migration was killed half-way comes to the newest at the next start', async () => {
  const name = `test_${randomUUID().replaceAll('-', '')}`;
  const root = new pg.Client({ connectionString: inject('templateUrl').replace(/\/[^/]*$/, '/postgres') });
  await root.connect();
  await root.query(`CREATE DATABASE ${name}`);
  const url = inject('templateUrl').replace(/\/[^/]*$/, `/${name}`);
  for (let tries = 0; tries < 6; tries++) await killedMigration(url, 250 + 180 * tries);
  await migrate(url);
  expect(await shapeOf(url)).toEqual(await shapeOf(inject('templateUrl')));
  await root.query(`DROP DATABASE ${name} WITH (FORCE)`);
  await root.end();
});

test('several instances that start at once on an empty database migrate it once', async () => {
  const name = `test_${randomUUID().replaceAll('-', '')}`;
  const root = new pg.Client({ connectionString: inject('templateUrl').replace(/\/[^/]*$/, '/postgres') });
  await root.connect();
  await root.query(`CREATE DATABASE ${name}`);
  const url = inject('templateUrl').replace(/\/[^/]*$/, `/${name}`);
  const applied = await Promise.all([migrate(url), migrate(url), migrate(url)]);
  expect(applied.filter((names) => names.length > 0)).toHaveLength(1);
  expect(await migrate(url)).toEqual([]);
  await root.query(`DROP DATABASE ${name} WITH (FORCE)`);
  await root.end();
});
