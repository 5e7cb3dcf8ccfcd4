import { threadCpuUsage } from 'node:process';
import { parentPort } from 'node:worker_threads';
import { type Done, type Job, run } from './pool.ts';

parentPort?.on('message', (job: Job) => {
  const before = threadCpuUsage();
  const result = run(job);
  const { user, system } = threadCpuUsage(before);
  parentPort?.postMessage({ result, seconds: (user + system) / 1e6 } satisfies Done);
});
