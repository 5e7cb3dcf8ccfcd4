import pg from 'pg';
import { isDatabaseAway } from './away.ts';

/** Whoever waits for a broken connection's answer is told by it. Unheard, the event would end the process. */
const brokenIsLetGo = () => undefined;

/** Has a pool leave broken connections out. */
export function leaveBrokenOut(pool: pg.Pool): pg.Pool {
  return pool.on('error', brokenIsLetGo).on('connect', (client) => client.on('error', brokenIsLetGo));
}

/**
 * Works on a connection of its own, which ends whatever it was in the middle of.
 * @param to the database's address, or how to connect to it
 * @throws Error in a sentence where the database is away or goes away meanwhile; else what `work` throws
 */
export async function onConnection<T>(
  to: string | pg.ClientConfig,
  work: (client: pg.Client) => Promise<T>,
): Promise<T> {
  const client = new pg.Client(to);
  client.on('error', brokenIsLetGo);
  let whole = false;
  try {
    await client.connect();
    const result = await work(client);
    whole = true;
    return result;
  } catch (error) {
    throw isDatabaseAway(error) ? away(error) : error;
  } finally {
    // In the middle of a COPY it would wait for its end.
    const ended = client.end().catch(() => undefined);
    if (whole) await ended;
  }
}

function away(cause: unknown): Error {
  const { message, code } = cause as { message?: string; code?: string };
  return new Error(
    `The database cannot be used (${message || code || String(cause)}). Start this again once it answers.`,
    { cause },
  );
}
