import { once } from 'node:events';
import { parentPort } from 'node:worker_threads';
import { Refusal } from '../refusal.ts';
import type { Said } from './pool.ts';

/** Serves what a pool asks of this worker, one piece after the other: the result goes back part by part, as it is asked for. */
export function serveWorker<Input>(work: (input: Input) => AsyncIterable<unknown>): void {
  const port = parentPort;
  if (port === null) throw new Error('this is a worker, not a program');
  const say = (said: Said) => port.postMessage(said);
  port.on('message', async (asked: { input: Input } | { more: true }) => {
    if (!('input' in asked)) return;
    try {
      for await (const part of work(asked.input)) {
        say({ part });
        await once(port, 'message');
      }
      say({ done: true });
    } catch (error) {
      say(saidOf(error));
    }
  });
}

function saidOf(error: unknown): Said {
  if (error instanceof Refusal) {
    const { message, status, fields } = error;
    return { refused: { message, status, fields } };
  }
  return { broke: error instanceof Error ? (error.stack ?? error.message) : String(error) };
}
