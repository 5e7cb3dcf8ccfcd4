import { afterAll, beforeAll, expect, test } from 'vitest';
import { isScheduledWorkOverdue, mendJobClock } from '../../src/platform/job-clock.ts';
import { type Bench, browse, startBench } from '../support/service.ts';

let bench: Bench;

beforeAll(async () => {
  bench = await startBench({ care: false, watching: false });
});

afterAll(() => bench.close());

const cronOn = async () =>
  (await bench.service.pool
    .query<{ ahead: boolean | null }>('SELECT cron_on > now() AS ahead FROM pgboss.version')
    .then(({ rows }) => rows[0]?.ahead)) ?? false;

test('scheduled work goes on after a clock that was two days ahead is set back', async () => {
  const { pool } = bench.service;
  await pool.query(
    "UPDATE pgboss.version SET cron_on = now() + interval '2 days', bam_on = now() + interval '2 days'",
  );
  await pool.query("UPDATE pgboss.queue SET maintain_on = now() + interval '2 days'");
  expect(await isScheduledWorkOverdue(pool)).toBe(true);
  expect((await browse(bench.app).get('/health/ready')).status).toBe(503);
  expect((await browse(bench.app).get('/health/ready')).json()).toEqual({
    status: 'scheduled work is overdue',
  });
  expect(await mendJobClock(pool)).toBeGreaterThanOrEqual(3);
  expect(await cronOn()).toBe(false);
  expect(await mendJobClock(pool)).toBe(0);
  expect((await browse(bench.app).get('/health/ready')).status).toBe(200);
});

test('what is planned for a time to come is left as it is', async () => {
  const { service } = bench;
  const at = new Date(Date.now() + 5 * 86_400_000);
  await service.db.$transaction((tx) => service.jobs.send(tx, 'evaluate', { systemId: 'a' }, at));
  expect(await mendJobClock(service.pool)).toBe(0);
  const { rows } = await service.pool.query(
    "SELECT start_after FROM pgboss.job WHERE state = 'created' AND start_after > now() + interval '4 days'",
  );
  expect(rows).toHaveLength(1);
});

test('work that nobody looked at for some minutes makes the service unready', async () => {
  await bench.service.pool.query("UPDATE pgboss.version SET cron_on = now() - interval '10 minutes'");
  expect(await isScheduledWorkOverdue(bench.service.pool)).toBe(true);
});
