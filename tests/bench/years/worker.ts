import { parentPort } from 'node:worker_threads';
import { liveYear, type policyNames } from './run.ts';

/** One farm-year: all policies, or the service alone without some rules. */
export interface YearJob {
  seed: number;
  without: readonly string[];
  policies: readonly (typeof policyNames)[number][];
}

parentPort?.on('message', ({ seed, without, policies }: YearJob) => {
  const results = policies.map((policy) => [policy, liveYear({ seed, policy, without })] as const);
  parentPort?.postMessage({ seed, ...Object.fromEntries(results) });
});
