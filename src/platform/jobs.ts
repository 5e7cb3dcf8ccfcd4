import type pg from 'pg';
import { fromPrisma, PgBoss } from 'pg-boss';
import type { Logger } from 'pino';
import { evaluationQueue } from './change.ts';
import { mendJobClock } from './job-clock.ts';
import { sparingly } from './log.ts';
import type { Tx } from './service.ts';

/** Work that happens after the request: in order of arrival, once across all instances, retried when it fails. */
export interface Jobs {
  /** Enqueues within the transaction: gone when it rolls back, there when it commits; worked on at `at`, if one is given. */
  send(tx: Tx, queue: string, data: object, at?: Date): Promise<void>;
  /**
   * Declares a queue and who works on it. The worker gets all jobs that wait, at most `batch`, so that it can do
   * together what asks for the same; it must bear being called twice for one job.
   */
  work<T extends object>(
    queue: string,
    worker: (jobs: T[]) => Promise<void>,
    options?: { batch?: number },
  ): Promise<void>;
  /** Enqueues by the clock: a cron line in a time zone. */
  schedule(queue: string, cron: string, timeZone: string): Promise<void>;
  stop(): Promise<void>;
}

/**
 * Work is taken over from an instance that was killed when its heartbeat fails (the shortest that the runner takes is 10 s)
 * and somebody has looked since.
 */
const heartbeatSeconds = 12;
const lookEverySeconds = 5;
/** Work that waits for its time, or comes back from a killed instance, is not told of: it is looked for. */
const waking = { pollingIntervalSeconds: 0.5, notifyPollingIntervalSeconds: lookEverySeconds };
const retried = { retryLimit: 5, retryBackoff: true, notify: true, heartbeatSeconds };

const clockLookMs = 30_000;

/** Mends now, and every half minute, what a clock that jumped has left in the job runner; says so where it had to. */
async function watchClock(pool: pg.Pool, log: Logger): Promise<() => void> {
  const look = async () => {
    const mended = await mendJobClock(pool);
    if (mended > 0)
      log.warn(
        { mended },
        'The clock was set back: scheduled work waited for a time to come, and goes on now.',
      );
  };
  await look();
  // While the database is away there is nothing to mend.
  const timer = setInterval(() => void look().catch(() => undefined), clockLookMs);
  timer.unref();
  return () => clearInterval(timer);
}

/** Creates a queue, or gives one that an earlier version created what the queues have now. */
async function declareQueue(boss: PgBoss, queue: string): Promise<void> {
  await boss.createQueue(queue, retried);
  await boss.updateQueue(queue, retried);
}

/** Starts the job runner in the schema `pgboss` of the given database. */
export async function startJobs(connectionString: string, pool: pg.Pool, log: Logger): Promise<Jobs> {
  const boss = new PgBoss({
    connectionString,
    max: 4,
    useListenNotify: true,
    superviseIntervalSeconds: lookEverySeconds,
    monitorIntervalSeconds: lookEverySeconds,
  });
  boss.on('error', sparingly(log, 'jobs'));
  await boss.start();
  const endClockWatch = await watchClock(pool, log);
  // Every change may send to it, whether or not anything on this instance works on it.
  await declareQueue(boss, evaluationQueue);
  return {
    async send(tx, queue, data, at) {
      const when = at === undefined ? {} : { startAfter: at };
      await boss.send(queue, data, { db: fromPrisma(tx as never), ...when });
    },
    async work(queue, worker, { batch = 100 } = {}) {
      await declareQueue(boss, queue);
      await boss.work(queue, { ...waking, batchSize: batch }, async (jobs) => {
        await worker(jobs.map((job) => job.data as never));
      });
    },
    async schedule(queue, cron, timeZone) {
      await boss.schedule(queue, cron, {}, { tz: timeZone });
    },
    async stop() {
      endClockWatch();
      await boss.stop({ graceful: true, timeout: 5000 });
    },
  };
}
