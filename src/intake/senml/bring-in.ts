import type { Work } from '../../platform/change.ts';
import { placeProbe } from '../probes/probes.ts';
import { takeWaiting } from '../probes/waiting.ts';
import { savePack } from './senml.ts';

/** What became of the values that had waited. */
export interface BroughtIn {
  taken: number;
  /** When the first of those was measured that were brought in; null where none was. */
  since: Date | null;
  /** Values that cannot be of the instrument: impossible, or in a unit that it does not measure in (these go on waiting). */
  refused: number;
}

/**
 * Says what a name stands for, and brings in what came under it before, each value as its sender's.
 * @throws Refusal as {@link placeProbe}
 */
export async function placeAndBringIn(
  work: Work,
  placing: Parameters<typeof placeProbe>[1],
): Promise<Awaited<ReturnType<typeof placeProbe>> & BroughtIn> {
  const placed = await placeProbe(work, placing);
  const { siteId } = await work.tx.system.findUniqueOrThrow({ where: { id: placing.systemId } });
  return { ...placed, ...(await bringIn(work, siteId, placing.name)) };
}

async function bringIn(work: Work, siteId: string, name: string): Promise<BroughtIn> {
  const waiting = await takeWaiting(work, name);
  const bySender = Map.groupBy(waiting, ({ accessKeyId, accountId }) => `${accessKeyId} ${accountId}`);
  const sum: BroughtIn = { taken: 0, since: null, refused: 0 };
  for (const own of bySender.values()) {
    const { accessKeyId = null, accountId = null } = own[0] ?? {};
    const records = own.map(({ ms, value, unit, note }) => ({
      ...{ n: name, t: ms / 1000, v: value, u: unit, timed: true },
      ...(note === '' ? {} : { note }),
    }));
    const { taken, present } = await savePack({ ...work, accessKeyId, accountId }, siteId, records);
    sum.taken += taken;
    sum.refused += records.length - taken - present;
  }
  if (sum.taken > 0) sum.since = new Date(waiting[0]?.ms ?? 0);
  return sum;
}
