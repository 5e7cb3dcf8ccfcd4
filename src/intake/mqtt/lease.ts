import { setTimeout as wait } from 'node:timers/promises';
import pg from 'pg';

/** Any fixed number: the name of this lock among the database's advisory locks. */
const lockKey = 0x0e7a_7e13;
const lookEveryMs = 1000;
/** A database that does not answer for so long has let go of the lock, as far as anybody can know (own choice). */
const patienceMs = 10_000;

/**
 * Does something on one instance of many at a time: whoever holds a lock of the database does it, and another takes over
 * within seconds when that one stops, is killed, or loses its connection.
 * @param begin starts it, and gives what ends it
 * @returns what ends it here
 */
export function onOneInstance(url: string, begin: () => Promise<() => Promise<void>>): () => Promise<void> {
  let on = true;
  let holder: pg.Client | null = null;
  let end: (() => Promise<void>) | null = null;
  let wake: (() => void) | null = null;

  const pause = () =>
    new Promise<void>((done) => {
      const timer = setTimeout(done, lookEveryMs);
      wake = () => {
        clearTimeout(timer);
        done();
      };
    });

  const letGo = async () => {
    const [ending, client] = [end, holder];
    [end, holder] = [null, null];
    await ending?.();
    // A way that swallows all would be waited for by the quarter of an hour.
    await Promise.race([client?.end().catch(() => undefined), wait(patienceMs, undefined, { ref: false })]);
  };

  const look = async () => {
    if (holder === null) {
      const client = new pg.Client({
        connectionString: url,
        connectionTimeoutMillis: patienceMs,
        query_timeout: patienceMs,
        keepAlive: true,
      });
      client.on('error', () => undefined);
      holder = client;
      await client.connect();
    }
    const { rows } =
      end === null
        ? await holder.query<{ held: boolean }>('SELECT pg_try_advisory_lock($1) AS held', [lockKey])
        : await holder.query<{ held: boolean }>('SELECT true AS held');
    if (end === null && rows[0]?.held === true) end = await begin();
  };

  const run = (async () => {
    while (on) {
      await look().catch(letGo);
      if (on) await pause();
    }
    await letGo();
  })();

  return async () => {
    on = false;
    wake?.();
    await run;
  };
}
