import { Worker } from 'node:worker_threads';
import type { Year } from './report.ts';
import type { YearJob } from './worker.ts';

/**
 * Lives the jobs on so many threads, in their order, and says each as it ends; none is begun after `until` (clock of
 * `performance`). The results are those that ended.
 */
export async function liveAll(
  jobs: readonly YearJob[],
  { threads, until }: { threads: number; until: number },
  said: (done: number) => void,
): Promise<Partial<Year>[]> {
  const results: Partial<Year>[] = [];
  let [next, done] = [0, 0];
  const work = () => {
    const worker = new Worker(new URL('./worker.ts', import.meta.url));
    return new Promise<void>((resolve, reject) => {
      let at = -1;
      const give = () => {
        const job = performance.now() < until ? jobs[next] : undefined;
        at = next;
        next += 1;
        if (job === undefined) void worker.terminate().then(() => resolve());
        else worker.postMessage(job);
      };
      worker.on('error', (cause) => reject(new Error(`Seed ${jobs[at]?.seed} failed.`, { cause })));
      worker.on('message', (year: Partial<Year>) => {
        results[at] = year;
        done += 1;
        said(done);
        give();
      });
      give();
    });
  };
  await Promise.all(Array.from({ length: Math.min(jobs.length, threads) }, work));
  return results.filter((one) => one !== undefined);
}
