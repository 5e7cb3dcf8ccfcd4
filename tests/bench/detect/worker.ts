import { parentPort } from 'node:worker_threads';
import { type Job, run } from './pool.ts';

parentPort?.on('message', (job: Job) => parentPort?.postMessage(run(job)));
