// npm run demo: the service on an invented farm with half a year of history.
import { join } from 'node:path';
import { makeDigest } from '../src/digest/digests.ts';
import { digestText } from '../src/digest/text.ts';
import { readConfig } from '../src/platform/config.ts';
import type { Service } from '../src/platform/service.ts';
import { start, stopOnSignal } from '../src/start.ts';
import { evaluateSystems } from '../src/watch/evaluation/evaluate.ts';
import { postDueDoses } from '../src/water/dosers/posting.ts';
import { loadCare } from './care.ts';
import { beginCorrection } from './demo/correction.ts';
import { demoPeople, growDemo } from './demo/grow.ts';
import { liveLastDays } from './demo/last-days.ts';
import { evaluatePast } from './demo/past-alerts.ts';
import { photographStock } from './demo/photos.ts';
import { EARLIER_SITTINGS, LATE_SITTINGS, photographRacks } from './demo/rack-photographs/take.ts';
import { openShop } from './demo/shop.ts';

const say = (line = '') => process.stdout.write(`${line}\n`);
const seed = 20_261;

async function demoSite(service: Service): Promise<{ id: string; name: string; timeZone: string }> {
  return service.db.site.findFirstOrThrow({ orderBy: { createdAt: 'asc' } });
}

let isGrown = false;

/** Grows the farm on an empty database; leaves one that is there as it is, unless it is somebody's real farm. */
async function prepare(service: Service): Promise<void> {
  await loadCare(service.pool);
  const accounts = await service.db.account.findMany({ select: { email: true } });
  const ours = new Set<string | null>(demoPeople.map((person) => person.email));
  if (accounts.length > 0 && !accounts.some((account) => ours.has(account.email))) {
    throw new Error(
      'This database holds a real farm. The demo wants one of its own: unset DATABASE_URL, or name an empty database.',
    );
  }
  if (accounts.length === 0) {
    say('Growing the demo farm: half a year of water, light and stock ...');
    await growDemo(service.pool, { seed, now: service.now() });
    await postDueDoses(service);
    // Threads of their own read the photographs meanwhile.
    await Promise.all([evaluatePast(service, service.now()), photographRacks(service, seed, LATE_SITTINGS)]);
    await evaluateSystems(service, 'all', service.now());
    await photographStock(service, seed);
    await openShop(service);
    await beginCorrection(service);
    await liveLastDays(service);
    isGrown = true;
  }
}

/** Reads the farm's earlier photographs of racks while its pages are answered already; stopped before, it goes without them. */
async function photographEarlier(service: Service): Promise<void> {
  let isOver = false;
  for (const signal of ['SIGINT', 'SIGTERM'] as const)
    process.once(signal, () => {
      isOver = true;
    });
  try {
    await photographRacks(service, seed, EARLIER_SITTINGS, () => isOver);
  } catch (error) {
    if (!isOver) throw error;
  }
}

try {
  const settings = readConfig({ LOG_LEVEL: 'warn', ...process.env });
  const config = { ...settings, EVENWATER_DATA: join(settings.EVENWATER_DATA, 'demo') };
  const starting = start(config, prepare, say);
  stopOnSignal(starting);
  const running = await starting;
  const site = await demoSite(running.service);
  const digest = await makeDigest(running.service, site.id, running.service.now());
  say();
  say(digestText(running.service, site, digest));
  say();
  say(`Evenwater is ready: ${running.address}`);
  for (const person of demoPeople) say(`  ${person.role.padEnd(8)} ${person.email}   ${person.password}`);
  say('Ctrl-C stops it; what was entered stays for the next start.');
  if (isGrown) await photographEarlier(running.service);
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}
