import { setTimeout as wait } from 'node:timers/promises';
import type { EmbeddedServer } from './embedded.ts';

const lookEveryMs = 500;
const longestPauseMs = 30_000;

/**
 * Looks after a server: one that has gone is started again, after a pause that doubles with each start that fails.
 * @param say hears in a sentence when it went and when it runs again
 * @returns ends the supervision; the server goes on
 */
export function supervise(
  server: Pick<EmbeddedServer, 'isUp' | 'restart'>,
  say: (sentence: string) => void,
): () => Promise<void> {
  const ending = new AbortController();
  const { signal } = ending;
  const look = async (pauseMs: number): Promise<number> => {
    try {
      if (await server.isUp()) return lookEveryMs;
      say('The database server has gone. It is started again.');
      await server.restart();
      say('The database server runs again.');
      return lookEveryMs;
    } catch (error) {
      const next = Math.min(longestPauseMs, 2 * pauseMs);
      say(`The database server does not start (${String(error)}). Tried again in ${next / 1000} s.`);
      return next;
    }
  };
  const goOn = async () => {
    for (let pauseMs = lookEveryMs; ; pauseMs = await look(pauseMs)) {
      await wait(pauseMs, undefined, { signal }).catch(() => undefined);
      if (signal.aborted) return;
    }
  };
  const supervision = goOn();
  return () => {
    ending.abort();
    return supervision;
  };
}
