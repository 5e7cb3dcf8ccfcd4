import { parentPort } from 'node:worker_threads';
import type { FarmName } from './hands/hands.ts';
import { liveYear, type PolicyName } from './run.ts';
import type { ServiceOptions } from './service/service.ts';

/** One farm-year: all policies, or the service alone with other options. */
export interface YearJob {
  seed: number;
  options: ServiceOptions;
  farm: FarmName;
  policies: readonly PolicyName[];
}

parentPort?.on('message', ({ seed, options, farm, policies }: YearJob) => {
  const results = policies.map((policy) => [policy, liveYear({ seed, policy, options, farm })] as const);
  parentPort?.postMessage({ seed, ...Object.fromEntries(results) });
});
