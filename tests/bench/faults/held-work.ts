import { setTimeout as wait } from 'node:timers/promises';
import pg from 'pg';
import { pino } from 'pino';
import { evaluationQueue } from '../../../src/platform/change.ts';
import { connect } from '../../../src/platform/database.ts';
import { startJobs } from '../../../src/platform/jobs.ts';
import { lockKey } from '../../../src/watch/evaluation/lock.ts';

/** Work that each of so many instances holds and cannot go on with until it is let go. */
export interface HeldWork {
  letGo(): Promise<void>;
  /** Seconds until all of it is done, however it came to that; infinite after two minutes. */
  isDone(): Promise<number>;
}

/** One evaluation for each instance: nobody evaluates while another does, so each takes one and waits. */
export async function holdEvaluations(url: string, instances: number): Promise<HeldWork> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const countOf = async (state: string) => {
    const { rows } = await client.query<{ count: number }>(
      `SELECT count(*)::int AS count FROM pgboss.job WHERE name = $1 AND state ${state}`,
      [evaluationQueue],
    );
    return rows[0]?.count ?? 0;
  };
  while ((await countOf("< 'completed'")) > 0) await wait(100);
  await client.query('SELECT pg_advisory_lock($1)', [lockKey]);
  const database = connect(url, 2);
  const jobs = await startJobs(url, database.pool, pino({ level: 'silent' }));
  const { id: systemId } = await database.db.system.findFirstOrThrow();
  for (let n = 1; n <= instances; n += 1) {
    await database.db.$transaction((tx) => jobs.send(tx, evaluationQueue, { systemId }));
    while ((await countOf("= 'active'")) < n) await wait(100);
  }
  await jobs.stop();
  await database.close();
  return {
    letGo: async () => void (await client.query('SELECT pg_advisory_unlock($1)', [lockKey])),
    isDone: async () => {
      const begun = performance.now();
      const seconds = () => (performance.now() - begun) / 1000;
      while (seconds() < 120 && (await countOf("< 'completed'")) > 0) await wait(50);
      const isOver = seconds() < 120;
      const took = seconds();
      await client.end();
      return isOver ? took : Number.POSITIVE_INFINITY;
    },
  };
}
