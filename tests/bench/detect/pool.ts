import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import { type CalmJob, type CalmResult, runCalmFarm } from './calm-job.ts';
import { type KitJob, type KitResult, runKits } from './kit-job.ts';
import { type LightJob, type LightResult, runLight } from './light-job.ts';
import { runWater, type WaterJob, type WaterResult } from './water-job.ts';

export type Job = WaterJob | KitJob | LightJob | CalmJob;
export type Result = WaterResult | KitResult | LightResult | CalmResult;

/** Runs one job here. */
export function run(job: Job): Result {
  if (job.kind === 'water') return runWater(job);
  if (job.kind === 'calm') return runCalmFarm(job);
  return job.kind === 'kit' ? runKits(job) : runLight(job);
}

/** Runs all jobs on as many threads as there are cores; the results come in the jobs' order. */
export async function runAll(jobs: readonly Job[], said: (job: Job) => void): Promise<Result[]> {
  const results: Result[] = [];
  let next = 0;
  const threads = Array.from({ length: Math.min(jobs.length, availableParallelism()) }, () => {
    const worker = new Worker(new URL('./worker.ts', import.meta.url));
    return new Promise<void>((resolve, reject) => {
      let at = -1;
      const give = () => {
        const job = jobs[next];
        at = next;
        next += 1;
        if (job === undefined) void worker.terminate().then(() => resolve());
        else worker.postMessage(job);
      };
      worker.on('error', reject);
      worker.on('message', (result: Result) => {
        results[at] = result;
        said(result.job);
        give();
      });
      give();
    });
  });
  await Promise.all(threads);
  return results;
}
