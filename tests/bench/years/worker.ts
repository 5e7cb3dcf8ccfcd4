import { parentPort } from 'node:worker_threads';
import { liveYear, type policyNames } from './run.ts';
import type { ServiceOptions } from './service/service.ts';

/** One farm-year: all policies, or the service alone with other options. */
export interface YearJob {
  seed: number;
  options: ServiceOptions;
  rougher: boolean;
  policies: readonly (typeof policyNames)[number][];
}

parentPort?.on('message', ({ seed, options, rougher, policies }: YearJob) => {
  const results = policies.map((policy) => [policy, liveYear({ seed, policy, options, rougher })] as const);
  parentPort?.postMessage({ seed, ...Object.fromEntries(results) });
});
