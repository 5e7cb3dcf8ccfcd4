// Compares lots in a thread of its own; see scan.ts.
import { serveWorker } from '../../platform/workers/serve.ts';
import { type Member, scanGroups } from '../../science/scan.ts';
import { standsOut } from './result.rules.ts';

serveWorker(async function* ({ members, seed, orders }: { members: Member[]; seed: number; orders: number }) {
  yield scanGroups(members, { seed, orders, smallest: 2, limit: standsOut });
});
