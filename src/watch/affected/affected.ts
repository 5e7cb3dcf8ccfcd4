import { change } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Service } from '../../platform/service.ts';
import type { Scan } from '../../science/scan.ts';
import { loadComparing } from './comparing.ts';
import { type ComparedMember, membersOf, type Sign } from './members.rules.ts';
import { fewestAffected, resultOf, type SharedResult } from './result.rules.ts';
import { compareGroups } from './scan.ts';

/** The comparisons that the watch keeps: what pales and what loses flesh seldom have one cause. Of the last two weeks. */
const kept = (['pale', 'flesh'] as const).map((sign) => ({ sign, days: 14 }));

const nothing = (total: number, affected: number): Scan => ({ clusters: [], best: null, affected, total });

/**
 * Compares the lots of a site that fell ill within `days` with all others that were looked at. Nine queries; the scan itself
 * is worked out by a thread of its own.
 */
export async function compareAffected(
  reader: SqlReader,
  siteId: string,
  { sign, days, now }: { sign: Sign; days: number; now: Date },
): Promise<{ scan: Scan; members: ComparedMember[] }> {
  const members = membersOf(await loadComparing(reader, siteId, { sign, days, now }), sign);
  const affected = members.filter((one) => one.affected).length;
  if (affected < fewestAffected) return { scan: nothing(members.length, affected), members };
  return { scan: await compareGroups(members), members };
}

/** What tells one result from another: anything else that changes is no news. */
const gist = (results: readonly SharedResult[]): string =>
  JSON.stringify(
    results.map(({ sign, by, name, lots }) => [sign, by, name, lots.map(({ id }) => id).sort()]),
  );

/**
 * Compares the affected lots of every site anew and keeps what was found, where it is another than before; the systems it
 * concerns are judged again.
 */
export async function compareSites(service: Service, now: Date): Promise<void> {
  const sites = await service.db.site.findMany({ select: { id: true } });
  for (const { id } of sites) await compareSite(service, id, now);
}

async function compareSite(service: Service, siteId: string, now: Date): Promise<void> {
  const results: SharedResult[] = [];
  for (const asked of kept) {
    const { scan, members } = await compareAffected(service.pool, siteId, { ...asked, now });
    results.push(...resultOf(scan, members, asked));
  }
  const before = await service.db.affectedScan.findUnique({ where: { siteId } });
  const known = (before?.result ?? []) as unknown as SharedResult[];
  if (gist(results) === gist(known)) return;
  await change({ ...service, now: () => now }, { accountId: null }, async (work) => {
    const row = { at: now, result: results.map((one) => ({ ...one })) };
    await work.tx.affectedScan.upsert({ where: { siteId }, create: { siteId, ...row }, update: row });
    const found = results.map(({ sign, by, name, lots }) => ({ sign, by, name, lots: lots.length }));
    work.record('affected.compared', { type: 'site', id: siteId }, { found });
    for (const systemId of new Set([...results, ...known].map((one) => one.systemId)))
      work.reevaluate(systemId);
  });
}
