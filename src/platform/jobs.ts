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
  /** Lets work begin that was held back until the service answers; does nothing where it was not. */
  begin(): Promise<void>;
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

/**
 * What the runner knows of queues and times, read once: most starts change none of it, and each question takes its turn on a
 * busy machine.
 */
async function readDeclared(boss: PgBoss) {
  const queues = await boss.getQueues();
  const settings = Object.entries(retried) as [keyof typeof retried, unknown][];
  const asNow = queues.filter((queue) => settings.every(([name, value]) => queue[name] === value));
  const schedules = await boss.getSchedules();
  return {
    queues: new Set(asNow.map(({ name }) => name)),
    schedules: new Set(schedules.map(({ name, cron, timezone }) => `${name} ${cron} ${timezone}`)),
  };
}

/** What a job runner does beside the work that it is sent. */
export interface JobsOptions {
  /** True where nothing is worked on before `begin` is called: what a killed instance left would hold up a start. */
  holdsWork?: boolean;
  /**
   * False where nothing is looked for but the work itself: neither what a killed instance left nor what is due by the
   * clock. A runner that lives for a moment needs neither.
   */
  looksAfter?: boolean;
}

/** Starts the job runner in the schema `pgboss` of the given database. */
export async function startJobs(
  connectionString: string,
  pool: pg.Pool,
  log: Logger,
  { holdsWork = false, looksAfter = true }: JobsOptions = {},
): Promise<Jobs> {
  const boss = new PgBoss({
    connectionString,
    max: 4,
    useListenNotify: true,
    supervise: looksAfter,
    schedule: looksAfter,
    superviseIntervalSeconds: lookEverySeconds,
    monitorIntervalSeconds: lookEverySeconds,
  });
  boss.on('error', sparingly(log, 'jobs'));
  await boss.start();
  const endClockWatch = await watchClock(pool, log);
  const declared = await readDeclared(boss);
  /** Creates a queue, or gives one that an earlier version created what the queues have now. */
  const declareQueue = async (queue: string) => {
    if (declared.queues.has(queue)) return;
    await boss.createQueue(queue, retried);
    await boss.updateQueue(queue, retried);
    declared.queues.add(queue);
  };
  const held: (() => Promise<unknown>)[] = [];
  let isHeld = holdsWork;
  // Every change may send to it, whether or not anything on this instance works on it.
  await declareQueue(evaluationQueue);
  return {
    async send(tx, queue, data, at) {
      const when = at === undefined ? {} : { startAfter: at };
      await boss.send(queue, data, { db: fromPrisma(tx as never), ...when });
    },
    async work(queue, worker, { batch = 100 } = {}) {
      await declareQueue(queue);
      const begin = () =>
        boss.work(queue, { ...waking, batchSize: batch }, async (jobs) => {
          await worker(jobs.map((job) => job.data as never));
        });
      if (isHeld) held.push(begin);
      else await begin();
    },
    async schedule(queue, cron, timeZone) {
      if (declared.schedules.has(`${queue} ${cron} ${timeZone}`)) return;
      await boss.schedule(queue, cron, {}, { tz: timeZone });
    },
    async begin() {
      isHeld = false;
      for (const begin of held.splice(0)) await begin();
    },
    async stop() {
      endClockWatch();
      await boss.stop({ graceful: true, timeout: 5000 });
    },
  };
}
