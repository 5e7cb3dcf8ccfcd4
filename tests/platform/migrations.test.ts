import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { expect, inject, test } from 'vitest';
import { migrate } from '../../src/platform/database/migrations.ts';

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
