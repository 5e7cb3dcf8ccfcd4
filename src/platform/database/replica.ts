import { AsyncLocalStorage } from 'node:async_hooks';
import { setTimeout as wait } from 'node:timers/promises';
import type { FastifyInstance } from 'fastify';
import type pg from 'pg';
import { connect, type Database } from '../database.ts';
import { sparingly } from '../log.ts';
import type { Service } from '../service.ts';

// Routes that only read, and much, may be answered by a streaming replica: a standby that follows the primary.

type Reads = Pick<Database, 'db' | 'pool'>;

const reading = new AsyncLocalStorage<Reads>();

/** The service as areas get it: within a request that the replica answers, what is read comes from there. */
export function readingService(service: Service): Service {
  return {
    ...service,
    get db() {
      return reading.getStore()?.db ?? service.db;
    },
    get pool() {
      return reading.getStore()?.pool ?? service.pool;
    },
  };
}

/** A replica that does not answer, or does not follow, is left alone for so long (own choice). */
const restMs = 5000;
/** So long a request waits for the replica to come up with the primary, before the primary answers itself (own choice). */
const patienceMs = 250;
const lookEveryMs = 10;

/**
 * Has the named routes ("GET /t/:token") answered by the replica while it follows, and by the primary otherwise. A replica
 * answers only once it has all that was saved when it was asked: whoever saved something sees it.
 * @param url the replica's address
 */
export function addReplica(
  app: FastifyInstance,
  service: Service,
  url: string,
  routes: readonly string[],
): void {
  const replica = connect(url);
  const say = sparingly(service.log, 'the replica');
  const named = new Set(routes);
  let isKnown = false;
  let restUntil = 0;
  const follows = async () => {
    if (!isKnown) await holdToPrimary(service.pool, replica.pool);
    isKnown = true;
    return isUpToDate(service.pool, replica.pool);
  };
  app.addHook('preHandler', (request, reply, done) => {
    if (Date.now() < restUntil || !named.has(`${request.method} ${request.routeOptions.url}`)) return done();
    follows().then(
      (itFollows) => {
        if (!itFollows) return done();
        reply.header('x-read-from', 'replica');
        reading.run(replica, done);
      },
      (error: unknown) => {
        isKnown = false;
        restUntil = Date.now() + restMs;
        say(error);
        done();
      },
    );
  });
  app.addHook('onClose', () => replica.close());
}

const identity = `SELECT system_identifier::text AS id FROM pg_control_system()`;

/** @throws Error where the replica is a copy of another server */
async function holdToPrimary(primary: pg.Pool, replica: pg.Pool): Promise<void> {
  const [one, other] = await Promise.all(
    [primary, replica].map(async (pool) => (await pool.query<{ id: string }>(identity)).rows[0]?.id),
  );
  if (one !== other)
    throw new Error(
      'DATABASE_REPLICA_URL: that server does not follow the one of DATABASE_URL. It is not read from.',
    );
}

// All that was acknowledged as saved lies before the end of what was flushed, unless commits do not wait for that.
const saved = `
  SELECT CASE WHEN current_setting('synchronous_commit') = 'off' THEN pg_current_wal_insert_lsn() ELSE pg_current_wal_flush_lsn() END::text AS at`;
// A replica that became a primary of its own follows nobody any longer.
const replayed = `SELECT pg_is_in_recovery() AND pg_last_wal_replay_lsn() >= $1::pg_lsn AS has`;

async function isUpToDate(primary: pg.Pool, replica: pg.Pool): Promise<boolean> {
  const at = (await primary.query<{ at: string }>(saved)).rows[0]?.at;
  for (const until = Date.now() + patienceMs; Date.now() < until; await wait(lookEveryMs))
    if ((await replica.query<{ has: boolean | null }>(replayed, [at])).rows[0]?.has === true) return true;
  return false;
}
