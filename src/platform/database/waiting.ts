import { setTimeout as wait } from 'node:timers/promises';
import { isDatabaseAway } from './away.ts';
import { onConnection } from './connection.ts';

const pauseMs = 1000;
/** How long a start waits for its database (own choice): a server that reboots beside it takes about a minute. */
const longestWaitMs = 120_000;
const saidEveryMs = 10_000;

/**
 * Waits until the configured database answers, and says so meanwhile.
 * @param say is given a sentence now and then
 * @throws Error naming the setting when it does not answer in time, or refuses the name or the password
 */
export async function waitForDatabase(url: string, say: (sentence: string) => void): Promise<void> {
  const { host } = new URL(url);
  const began = Date.now();
  let said = Number.NEGATIVE_INFINITY;
  for (;;) {
    try {
      return await onConnection(
        { connectionString: url, connectionTimeoutMillis: 5000 },
        async () => undefined,
      );
    } catch (error) {
      const words = error instanceof Error && error.message !== '' ? error.message : String(error);
      if (!isDatabaseAway(error))
        throw new Error(`The database at ${host} (DATABASE_URL) does not let the service in: ${words}`, {
          cause: error,
        });
      const waited = Date.now() - began;
      if (waited > longestWaitMs)
        throw new Error(
          `The database at ${host} (DATABASE_URL) has not answered for ${longestWaitMs / 1000} s. Start it, or correct the setting.`,
          { cause: error },
        );
      if (Date.now() - said > saidEveryMs) {
        say(`Waiting for the database at ${host} (DATABASE_URL).`);
        said = Date.now();
      }
      await wait(pauseMs);
    }
  }
}
