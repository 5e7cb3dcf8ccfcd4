import { Worker } from 'node:worker_threads';
import { Refusal } from '../refusal.ts';
import { turns } from './turns.ts';

/** What a worker says: a part of the result, that it is done, why it refuses, or that it broke. */
export type Said =
  | { part: unknown }
  | { done: true }
  | { refused: { message: string; status: number; fields: Refusal['fields'] } }
  | { broke: string };

/** How far a worker may go. */
export interface WorkerBounds {
  /** Workers at once; what is asked beyond that waits. */
  atOnce: number;
  longestMs: number;
  memoryMb: number;
  /** What is said when time or memory do not suffice. */
  tooMuch: string;
}

/**
 * Has work done by threads of their own, so that requests are answered meanwhile. A worker serves `file` (by
 * `serveWorker`), is kept for the next piece of work, and is ended where it takes too long or too much memory.
 * @returns a function that hands over the input and takes the result part by part
 * @throws Refusal what the worker refuses, or that it is too much
 */
export function workerPool<Input, Part>(
  file: URL,
  bounds: WorkerBounds,
): (input: Input, take: (part: Part) => void) => Promise<void> {
  const idle: Worker[] = [];
  const inTurn = turns(bounds.atOnce);
  const start = () => {
    const worker = new Worker(file, { resourceLimits: { maxOldGenerationSizeMb: bounds.memoryMb } });
    worker.once('exit', () => {
      const at = idle.indexOf(worker);
      if (at >= 0) idle.splice(at, 1);
    });
    return worker;
  };
  return (input, take) =>
    inTurn(async () => {
      const worker = idle.pop() ?? start();
      const isWell = await askWorker(worker, input, take, bounds).catch(async (error: unknown) => {
        if (error instanceof Refusal && error.message !== bounds.tooMuch) idle.push(worker);
        else await worker.terminate();
        throw error;
      });
      if (isWell) idle.push(worker);
    });
}

function askWorker<Input, Part>(
  worker: Worker,
  input: Input,
  take: (part: Part) => void,
  { longestMs, tooMuch }: WorkerBounds,
): Promise<true> {
  return new Promise<true>((resolve, reject) => {
    const heard = (said: Said) => {
      if ('part' in said) {
        take(said.part as Part);
        // One part a turn of the loop: others get theirs in between.
        setImmediate(() => worker.postMessage({ more: true }));
      } else {
        stop();
        if ('done' in said) resolve(true);
        else if ('refused' in said) reject(new Refusal(said.refused.message, said.refused));
        else reject(new Error(said.broke));
      }
    };
    const failed = (error: NodeJS.ErrnoException) => {
      stop();
      reject(error.code === 'ERR_WORKER_OUT_OF_MEMORY' ? new Refusal(tooMuch) : error);
    };
    const late = setTimeout(() => {
      stop();
      reject(new Refusal(tooMuch));
    }, longestMs);
    const stop = () => {
      clearTimeout(late);
      worker.off('message', heard).off('error', failed);
      // An idle worker keeps no process alive.
      worker.unref();
    };
    worker.ref();
    worker.on('message', heard).on('error', failed);
    worker.postMessage({ input: plain(input) });
  });
}

/** The same data as plain objects: rows that the database client adds something to are wrapped, and cannot be sent to a thread. */
function plain(value: unknown): unknown {
  if (value === null || typeof value !== 'object' || value instanceof Date || ArrayBuffer.isView(value))
    return value;
  if (Array.isArray(value)) return value.map(plain);
  if (value instanceof Map) return new Map([...value].map(([key, held]) => [key, plain(held)]));
  if (value instanceof Set) return new Set([...value].map(plain));
  return Object.fromEntries(Object.entries(value).map(([key, held]) => [key, plain(held)]));
}
