import { deserialize, serialize } from 'node:v8';
import { loadCare } from '../../seed/care.ts';
import { beginCorrection } from '../../seed/demo/correction.ts';
import { demoPeople, growDemo } from '../../seed/demo/grow.ts';
import { evaluatePast } from '../../seed/demo/past-alerts.ts';
import { openShop } from '../../seed/demo/shop.ts';
import type { Truth } from '../../seed/demo/truth.ts';
import { makeDigest, makeDigestAgain } from '../../src/digest/digests.ts';
import { evaluationQueue } from '../../src/platform/change.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { adminClient, freshDatabase, onceAlone, type TestDatabase } from './database.ts';
import { type Bench, benchNow, benchOn } from './service.ts';

/** A bench on the demo farm: grown, evaluated, with this morning's digest. */
export interface DemoBench extends Bench {
  truth: Truth;
  siteId: string;
  person(role: 'hand' | 'manager' | 'owner'): { email: string; password: string };
}

/** The morning the demo farm of the tests ends on. */
export const demoNow = new Date('2026-11-24T09:00:00Z');

/**
 * A bench on a demo farm of the test file's own: it is grown once a run, and copied from then on. Without `watching`, as
 * {@link benchOn} has it, its alerts stay as they were grown, whatever the test enters.
 */
export async function startDemoBench({
  seed = 20261,
  now = demoNow,
  watching = true,
} = {}): Promise<DemoBench> {
  const { template, truth } = await grownOnce(`demo_${seed}_${now.getTime()}`, async (database) => {
    const grown = await benchOn({ ...database, close: database.disconnect });
    const truth = await grow(grown, seed, now);
    await grown.close();
    return truth;
  });
  const bench = await benchOn(await freshDatabase(template), { care: false, watching });
  bench.at(now);
  const site = await bench.service.db.site.findFirstOrThrow();
  const person = (role: string) => {
    const found = demoPeople.find((one) => one.role === role);
    if (found === undefined) throw new Error(`nobody on the demo farm is ${role}`);
    return found;
  };
  return { ...bench, truth, siteId: site.id, person };
}

/** A database of the test file's own with another demo farm in it as it was grown, evaluated by nobody. */
export async function demoDatabase(): Promise<TestDatabase> {
  const { template } = await grownOnce('plain_demo', async (database) => {
    await loadCare(database.pool);
    const truth = await growDemo(database.pool, { seed: 7, now: benchNow });
    await database.disconnect();
    return truth;
  });
  return freshDatabase(template);
}

/** Grows and evaluates the demo farm on an empty bench, and makes the digest of its last morning. */
async function grow(bench: Bench, seed: number, now: Date): Promise<Truth> {
  bench.at(now);
  const truth = await growDemo(bench.service.pool, { seed, now });
  await evaluatePast(bench.service, now);
  await evaluateSystems(bench.service, 'all', now);
  await openShop(bench.service);
  await beginCorrection(bench.service);
  const site = await bench.service.db.site.findFirstOrThrow();
  await evaluationsDone(bench);
  await makeDigest(bench.service, site.id, now);
  return truth;
}

/** Waits until nothing that was queued for the watch is left to do. */
export async function evaluationsDone({ service }: Bench): Promise<void> {
  const left = `SELECT FROM pgboss.job WHERE name = $1 AND state < 'completed' AND start_after <= now()`;
  while (((await service.pool.query(left, [evaluationQueue])).rowCount ?? 0) > 0)
    await new Promise((resolve) => setTimeout(resolve, 100));
}

/**
 * A database under `name` that `fill` filled and let go of, and what it gave: made by the first file that asks, while others wait.
 * What it gave stands on the server too, since files run in several processes.
 */
async function grownOnce(name: string, fill: (database: TestDatabase) => Promise<Truth>) {
  const template = `template_${name}`;
  const client = await adminClient();
  try {
    await client.query(`SELECT pg_advisory_lock(hashtext('a farm is grown'))`);
    await client.query('CREATE TABLE IF NOT EXISTS grown (template text PRIMARY KEY, truth bytea NOT NULL)');
    const known = await client.query<{ truth: Buffer }>('SELECT truth FROM grown WHERE template = $1', [
      template,
    ]);
    if (known.rows[0] !== undefined) return { template, truth: deserialize(known.rows[0].truth) as Truth };
    const database = await freshDatabase();
    const truth = await fill(database);
    await onceAlone(client, `ALTER DATABASE ${database.name} RENAME TO ${template}`);
    await client.query('INSERT INTO grown VALUES ($1, $2)', [template, serialize(truth)]);
    return { template, truth };
  } finally {
    await client.end();
  }
}

/** This morning's digest made anew once the evaluations that were queued while the farm grew have ended. */
export async function digestOnceSettled(bench: DemoBench): Promise<void> {
  await evaluationsDone(bench);
  const day = demoNow.toISOString().slice(0, 10);
  await bench.change((work) =>
    makeDigestAgain(bench.service, work, { site: { id: bench.siteId }, day, mail: false }),
  );
}
