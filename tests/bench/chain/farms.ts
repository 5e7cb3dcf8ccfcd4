import { hash } from '@node-rs/argon2';
import { addKey } from '../../../src/people/keys/keys.ts';
import { localDay } from '../../../src/platform/days.ts';
import { begin, planRound, zone } from '../../rounds/hall.ts';
import type { Bench } from '../../support/service.ts';
import { signInOverHttp } from '../http/sign-in.ts';
import type { Farm } from './walker.ts';

const password = 'a long enough password';

/** What every farm of the chain needs besides its water and stock: somebody who walks, a key, probes by name, a round that has begun. */
export async function staffFarms(bench: Bench, address: string, probes: number): Promise<Farm[]> {
  const { db } = bench.service;
  // The work of a hash is no part of what is measured.
  const passwordHash = await hash(password, { memoryCost: 8, timeCost: 1, parallelism: 1 });
  const method = await db.method.create({
    data: {
      quantityCode: 'temperature',
      name: 'Bench probe',
      absolute: 0.05,
      everyMinutes: 1,
      isProbe: true,
    },
  });
  const sites = await db.site.findMany({
    include: { systems: { include: { tanks: { include: { racks: true } } } } },
  });
  const farms: Farm[] = [];
  for (const [n, site] of sites.entries()) {
    const email = `hand.${n}@example.org`;
    const account = await db.account.create({
      data: { name: `Hand ${n}`, email, passwordHash, role: 'hand' },
    });
    await db.sitePerson.create({ data: { siteId: site.id, accountId: account.id, role: 'hand' } });
    const tanks = site.systems.flatMap((system) => system.tanks);
    const plan = await planRound(
      bench,
      { siteId: site.id, tankId: tanks[0]?.id ?? '' },
      {
        startsAt: '00:00',
        tankIds: tanks.map(({ id }) => id),
      },
    );
    const roundId = await begin(bench, { siteId: site.id }, plan, localDay(new Date(), zone));
    const { cookie, csrf } = await signInOverHttp(address, { email, password });
    farms.push({
      key: await keyOf(bench, site.id, account.id),
      probes: await probesOf(
        bench,
        { n, systemIds: site.systems.map(({ id }) => id), methodId: method.id },
        probes,
      ),
      ...{ cookie, csrf, roundId },
      racks: tanks.flatMap(({ racks }) => racks.map(({ id }) => id)),
    });
  }
  return farms;
}

async function keyOf(bench: Bench, siteId: string, holder: string): Promise<string> {
  const asked = {
    name: `Controller ${siteId}`,
    siteId,
    scopes: ['readings' as const],
    days: null,
    perMinute: 6_000,
  };
  return (await bench.change((work) => addKey(work, asked), holder)).secret;
}

/** Probes of one farm, in its systems by turns. @returns their names */
async function probesOf(
  { service: { db } }: Bench,
  { n, systemIds, methodId }: { n: number; systemIds: string[]; methodId: string },
  count: number,
): Promise<string[]> {
  const openedAt = new Date(Date.now() - 30 * 86_400_000);
  const names = Array.from({ length: count }, (_, i) => `farm${n}:t${i}`);
  for (const [i, name] of names.entries()) {
    const kit = await db.kit.create({ data: { methodId, label: name, openedAt } });
    const systemId = systemIds[i % systemIds.length] ?? '';
    await db.probeName.create({ data: { name, systemId, kitId: kit.id, createdAt: openedAt } });
  }
  return names;
}
