import type pg from 'pg';

/** Any fixed number: the name of this lock among the database's advisory locks. */
export const lockKey = 0x0e7a_7e12;

const queues = new WeakMap<pg.Pool, Promise<unknown>>();

/**
 * Runs `work` while nobody else evaluates, here or on another instance: one after another in this process, so that
 * waiting holds at most one connection, and under an advisory lock across instances. A lost connection frees it.
 */
export async function underEvaluationLock<T>(pool: pg.Pool, work: () => Promise<T>): Promise<T> {
  const turn = (queues.get(pool) ?? Promise.resolve()).then(() => locked(pool, work));
  queues.set(
    pool,
    turn.catch(() => undefined),
  );
  return turn;
}

async function locked<T>(pool: pg.Pool, work: () => Promise<T>): Promise<T> {
  const client = await pool.connect();
  let broken = true;
  try {
    await client.query('SELECT pg_advisory_lock($1)', [lockKey]);
    const result = await work();
    await client.query('SELECT pg_advisory_unlock($1)', [lockKey]);
    broken = false;
    return result;
  } finally {
    // A connection that may still hold the lock is closed, which frees it.
    client.release(broken);
  }
}
