import { workerPool } from '../../platform/workers/pool.ts';
import type { Member, Scan } from '../../science/scan.ts';

/** Random orders that the strongest grouping is compared with: p has steps of 1 in 2,000. */
const orders = 1999;
/** The same farm gives the same answer each time. */
const seed = 1;

const scanAside = workerPool<{ members: readonly Member[]; seed: number; orders: number }, Scan>(
  new URL('./scan-worker.ts', import.meta.url),
  {
    ...{ atOnce: 1, longestMs: 60_000, memoryMb: 512 },
    tooMuch: 'These are too many lots to compare at once. Choose fewer days.',
  },
);

/** Which grouping explains who is affected, worked out by a thread of its own. @throws Refusal where it takes too long */
export async function compareGroups(members: readonly Member[]): Promise<Scan> {
  let scan: Scan = { clusters: [], best: null, affected: 0, total: members.length };
  const plain = members.map(({ affected, groups }) => ({ affected, groups }));
  await scanAside({ members: plain, seed, orders }, (part) => {
    scan = part;
  });
  return scan;
}
