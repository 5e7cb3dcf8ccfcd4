import { change } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Service } from '../../platform/service.ts';
import type { Scan } from '../../science/scan.ts';
import { loadComparing } from './comparing.ts';
import { type ComparedMember, membersOf, type Sign } from './members.rules.ts';
import { fewestAffected, resultOf, type SharedResult } from './result.rules.ts';
import { compareGroups } from './scan.ts';

/** The comparison that the watch keeps: any sign, of the last two weeks. */
const kept = { sign: 'any' as Sign, days: 14 };

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
const gist = (result: SharedResult | null): string =>
  result === null ? '' : JSON.stringify([result.by, result.name, result.lots.map(({ id }) => id).sort()]);

/**
 * Compares the affected lots of every site anew and keeps what was found, where it is another than before; the systems it
 * concerns are judged again.
 */
export async function compareSites(service: Service, now: Date): Promise<void> {
  const sites = await service.db.site.findMany({ select: { id: true } });
  for (const { id: siteId } of sites) {
    const { scan, members } = await compareAffected(service.pool, siteId, { ...kept, now });
    const result = resultOf(scan, members, kept);
    const before = await service.db.affectedScan.findUnique({ where: { siteId } });
    const known = (before?.result ?? null) as SharedResult | null;
    if (gist(result) === gist(known)) continue;
    await change({ ...service, now: () => now }, { accountId: null }, async (work) => {
      if (result === null) await work.tx.affectedScan.deleteMany({ where: { siteId } });
      else {
        const row = { at: now, result: { ...result } };
        await work.tx.affectedScan.upsert({ where: { siteId }, create: { siteId, ...row }, update: row });
      }
      const { by = '', name = '' } = result ?? {};
      work.record(
        'affected.compared',
        { type: 'site', id: siteId },
        { by, name, lots: result?.lots.length ?? 0 },
      );
      for (const systemId of new Set([result?.systemId, known?.systemId]))
        if (systemId !== undefined && systemId !== '') work.reevaluate(systemId);
    });
  }
}
