import { Worker } from 'node:worker_threads';
import { type BottleJob, type BottleResult, runBottles } from './bottle-job.ts';
import { type CalmJob, type CalmResult, runCalmFarm } from './calm-job.ts';
import { type CutJob, type CutResult, runCuts } from './cut-job.ts';
import { type KitJob, type KitResult, runKits } from './kit-job.ts';
import { type LightJob, type LightResult, runLight } from './light-job.ts';
import { runWater, type WaterJob, type WaterResult } from './water-job.ts';

export type Job = WaterJob | KitJob | LightJob | CalmJob | BottleJob | CutJob;
export type Result = WaterResult | KitResult | LightResult | CalmResult | BottleResult | CutResult;

/** Runs one job here. */
export function run(job: Job): Result {
  if (job.kind === 'water') return runWater(job);
  if (job.kind === 'calm') return runCalmFarm(job);
  if (job.kind === 'bottles') return runBottles(job);
  if (job.kind === 'cuts') return runCuts(job);
  return job.kind === 'kit' ? runKits(job) : runLight(job);
}

/** What a thread hands back: the result, and the processor time it took, in seconds. */
export interface Done {
  result: Result;
  seconds: number;
}

/** Runs all jobs on so many threads, and says each as it ends; the results come in the jobs' order. */
export async function runAll(
  jobs: readonly Job[],
  threads: number,
  said: (done: Done) => void,
): Promise<Result[]> {
  const results: Result[] = [];
  let next = 0;
  const work = () => {
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
      worker.on('error', (cause) => {
        const job = jobs[at];
        reject(
          new Error(`${job === undefined ? 'A thread' : titleOf(job)}, seed ${job?.seed} failed.`, { cause }),
        );
      });
      worker.on('message', (done: Done) => {
        results[at] = done.result;
        said(done);
        give();
      });
      give();
    });
  };
  await Promise.all(Array.from({ length: Math.min(jobs.length, threads) }, work));
  return results;
}

/** What a job is called where it is said that it ended. */
export const titleOf = (job: Job): string => (job.kind === 'light' ? 'Light step' : job.heading);
