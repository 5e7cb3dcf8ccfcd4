import { beginCorrection } from '../../seed/demo/correction.ts';
import { demoPeople, growDemo } from '../../seed/demo/grow.ts';
import { evaluatePast } from '../../seed/demo/past-alerts.ts';
import { openShop } from '../../seed/demo/shop.ts';
import type { Truth } from '../../seed/demo/truth.ts';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { makeDigest, makeDigestAgain } from '../../src/digest/digests.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench } from './service.ts';

/** A bench on the demo farm: grown, evaluated, with this morning's digest. */
export interface DemoBench extends Bench {
  truth: Truth;
  siteId: string;
  person(role: 'hand' | 'manager' | 'owner'): { email: string; password: string };
}

/** The morning the demo farm of the tests ends on. */
export const demoNow = new Date('2026-11-24T09:00:00Z');

/** Grows the demo farm on a database of the test file's own. */
export async function startDemoBench({ seed = 20261, now = demoNow } = {}): Promise<DemoBench> {
  const bench = await startBench();
  bench.at(now);
  const truth = await growDemo(bench.service.pool, { seed, now });
  await evaluatePast(bench.service, now);
  await evaluateSystems(bench.service, 'all', now);
  await openShop(bench.service);
  await beginCorrection(bench.service);
  const site = await bench.service.db.site.findFirstOrThrow();
  // The service looks at the clock each minute: a digest it made while the farm grew does not know of the shop.
  await bench.service.db.letter.deleteMany();
  await bench.service.db.digest.deleteMany();
  await makeDigest(bench.service, site.id, now);
  const person = (role: string) => {
    const found = demoPeople.find((one) => one.role === role);
    if (found === undefined) throw new Error(`nobody on the demo farm is ${role}`);
    return found;
  };
  return { ...bench, truth, siteId: site.id, person };
}

/** This morning's digest made anew once the evaluations that were queued while the farm grew have ended. */
export async function digestOnceSettled(bench: DemoBench): Promise<void> {
  const roots = async () =>
    (await openAlerts(bench.service.pool)).filter(({ causeId }) => causeId === null).length;
  for (let quiet = 0, before = -1; quiet < 4; ) {
    const now = await roots();
    quiet = now === before && now === 4 ? quiet + 1 : 0;
    before = now;
    await new Promise((resolve) => setTimeout(resolve, 250));
  }
  const day = demoNow.toISOString().slice(0, 10);
  await bench.change((work) =>
    makeDigestAgain(bench.service, work, { site: { id: bench.siteId }, day, mail: false }),
  );
}
