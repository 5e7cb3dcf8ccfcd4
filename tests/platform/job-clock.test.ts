import { afterAll, beforeAll, expect, test } from 'vitest';
import { clockDoubts, holdToClock } from '../../src/platform/database/machine-clock.ts';
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

test('a clock that stands before the program was made, or behind the newest entry, is said at the start', async () => {
  const { pool } = bench.service;
  const doubts = (at: string) => clockDoubts(pool, new Date(at));
  expect(await doubts(new Date().toISOString())).toEqual([]);
  expect(await doubts('2031-05-03T08:00:00Z')).toEqual([]);
  const [early] = await doubts('2010-01-01T08:00:00Z');
  expect(early).toBe(
    'This machine’s clock says 1 Jan 2010, which is before this version of Evenwater was made. Set the date and time before anything is entered: every entry carries its time.',
  );
  bench.at('2031-05-03T08:00:00Z');
  await bench.change(async (work) => {
    const site = await work.tx.site.create({ data: { name: 'Saltgate', timeZone: 'Europe/Lisbon' } });
    work.record('site.changed', { type: 'site', id: site.id }, { name: 'Saltgate' });
  });
  expect(await doubts('2027-01-01T08:00:00Z')).toEqual([
    'This machine’s clock says 1 Jan 2027, and the newest entry is of 3 May 2031: one of the two is wrong. Set the date and time before anything is entered: every entry carries its time.',
  ]);
  expect(() => holdToClock(new Date(-5))).toThrow(
    'This machine’s clock says 31 Dec 1969. Set the date and time',
  );
});
