import type { PestWatch } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { pestOf } from './pests.rules.ts';
import { type Water, watersOfLots } from './waters.ts';

/** A look at a lot that showed a pest. */
export interface Sighting {
  conditionId: string;
  lotId: string;
  code: string;
  /** Code of the pest; "unnamed" where nobody told which. */
  pest: string;
  counted: number | null;
  at: Date;
}

/** The journal's line is about the system. */
const ofSystem = (id: string) => ({ type: 'system' as const, id });

/** The watch over a water for a pest, opened where none is; `why` says why where nothing was seen in it. */
export async function openWatch(
  work: Work,
  water: Water,
  pest: string,
  { at, why }: { at: Date; why: string },
): Promise<string> {
  const { systemId, tankId } = water;
  const open = await lockOpenWatch(work, water, pest);
  if (open !== null) {
    // What was seen earlier than the watch began moves its beginning.
    if (at < open.openedAt)
      await work.tx.pestWatch.update({ where: { id: open.id }, data: { openedAt: at } });
    work.reevaluate(systemId);
    return open.id;
  }
  const data = { systemId, tankId, pest, openedAt: at, openedWhy: why, accountId: work.accountId };
  const { id } = await work.tx.pestWatch.create({ data });
  work.record('pest_watch.opened', ofSystem(systemId), {
    watch: id,
    pest: pestOf(pest).name,
    tankId,
    at,
    why,
  });
  work.reevaluate(systemId);
  return id;
}

/** The watch that a water is under for a pest; the second of two at once waits here and finds the first one's. */
async function lockOpenWatch({ tx }: Work, { systemId, tankId }: Water, pest: string) {
  await tx.$queryRaw`SELECT id FROM system WHERE id = ${systemId}::uuid FOR NO KEY UPDATE`;
  return tx.pestWatch.findFirst({ where: { systemId, tankId, pest, endedAt: null } });
}

/** Puts a water under watch because somebody says so. @throws Refusal 409 where it is already */
export async function startWatch(work: Work, water: Water, pest: string, why: string): Promise<string> {
  if ((await lockOpenWatch(work, water, pest)) === null)
    return openWatch(work, water, pest, { at: work.now, why });
  const message =
    'This water is under watch for it already. Open its line in the list, and note there what you saw.';
  throw new Refusal(message, { status: 409, field: 'pest' });
}

/** Puts the water of lots on which a pest was seen under watch for it. On a lot that never stood anywhere it waits for a place. */
export async function noteSightings(work: Work, sightings: readonly Sighting[]): Promise<void> {
  if (sightings.length === 0) return;
  const waters = await watersOfLots(
    readerOf(work.tx),
    sightings.map(({ lotId }) => lotId),
  );
  const groups = Map.groupBy(sightings, ({ lotId, pest }) => {
    const water = waters.get(lotId);
    return water === undefined ? '' : `${water.systemId} ${water.tankId} ${pest}`;
  });
  for (const group of groups.values()) {
    const [first] = group;
    const water = first === undefined ? undefined : waters.get(first.lotId);
    if (first === undefined) continue;
    if (water === undefined) {
      await work.tx.pestSighting.createMany({
        data: group.map(({ conditionId, lotId, pest, counted }) => ({ conditionId, lotId, pest, counted })),
      });
      continue;
    }
    const at = new Date(Math.min(...group.map((one) => one.at.getTime())));
    const watchId = await openWatch(work, water, first.pest, { at, why: '' });
    await work.tx.pestSighting.createMany({
      data: group.map(({ conditionId, lotId, counted }) => ({ conditionId, watchId, lotId, counted })),
    });
  }
}

/** The pest, by its code, that was last seen on each of these lots; those on which none was are left out. One query. */
export async function lastPests(
  reader: SqlReader,
  lotIds: readonly string[],
): Promise<ReadonlyMap<string, string>> {
  const { rows } = await reader.query<{ id: string; pest: string }>(
    `SELECT DISTINCT ON (seen.lot_id) seen.lot_id AS id, coalesce(watch.pest, seen.pest) AS pest
       FROM pest_sighting AS seen
       JOIN condition ON condition.id = seen.condition_id AND condition.voided_at IS NULL
       LEFT JOIN pest_watch AS watch ON watch.id = seen.watch_id
      WHERE seen.lot_id = ANY($1::uuid[]) ORDER BY seen.lot_id, condition.at DESC, condition.id DESC`,
    [[...lotIds]],
  );
  return new Map(rows.map(({ id, pest }) => [id, pest]));
}

/** A water to which something came from watched water is watched as well, for the same pests. */
export async function carryWatches(
  work: Work,
  pests: readonly string[],
  to: Water,
  { at, why }: { at: Date; why: string },
): Promise<void> {
  for (const pest of pests) await openWatch(work, to, pest, { at, why });
}

/** A watch with the names around it. @throws Refusal 404 */
export async function findWatch(db: Reader, id: string) {
  const watch = await db.pestWatch.findUnique({
    where: { id },
    include: {
      system: { include: { site: { select: { timeZone: true } } } },
      tank: { select: { name: true } },
    },
  });
  if (watch === null) throw notFound('This watch for a pest');
  return watch;
}

async function lockOpen(work: Work, id: string): Promise<PestWatch> {
  await work.tx.$queryRaw`SELECT id FROM pest_watch WHERE id = ${id}::uuid FOR UPDATE`;
  const watch = await work.tx.pestWatch.findUnique({ where: { id } });
  if (watch === null) throw notFound('This watch for a pest');
  if (watch.endedAt !== null)
    throw new Refusal('The watch for this pest has ended already.', { status: 409 });
  return watch;
}

/** What the end of a watch is decided from: all that was seen and done since it began. */
export const watchStanding = (watchId: string): Standing => ({
  what: 'this watch',
  read: async ({ pestSighting, pestLook, pestTreatment }) => {
    const of = { where: { watchId, voidedAt: null } };
    const [seen, looks, treatments] = [
      await pestSighting.count({ where: { watchId } }),
      await pestLook.count(of),
      await pestTreatment.count(of),
    ];
    return [seen, looks, treatments];
  },
});

/** Ends a watch with its reason. @throws Refusal 404; 409 when it has ended */
export async function endWatch(work: Work, id: string, why: string): Promise<PestWatch> {
  const watch = await lockOpen(work, id);
  const end = { endedAt: work.now, endedWhy: why, endedById: work.accountId, version: { increment: 1 } };
  await work.tx.pestWatch.update({ where: { id }, data: end });
  work.record('pest_watch.ended', ofSystem(watch.systemId), {
    watch: id,
    pest: pestOf(watch.pest).name,
    why,
  });
  work.reevaluate(watch.systemId);
  return watch;
}

/** A look at the whole water: how many were found. @throws Refusal 404; 409 when the watch has ended */
export async function noteLook(
  work: Work,
  id: string,
  { at, found, note }: { at: Date; found: number; note: string },
): Promise<PestWatch> {
  const watch = await lockOpen(work, id);
  if (at < watch.openedAt)
    throw new Refusal('The watch began only after that. Enter a later time.', { field: 'at' });
  await work.tx.pestLook.create({ data: { watchId: id, at, found, note, accountId: work.accountId } });
  const pest = pestOf(watch.pest).name;
  work.record('pest_look.taken', ofSystem(watch.systemId), { watch: id, pest, found, at, note });
  work.reevaluate(watch.systemId);
  return watch;
}

/** Says which pest it is. Where the water is watched for that one already, the two become one. @throws Refusal 404, 409 */
export async function nameWatch(
  work: Work,
  id: string,
  { pest, version }: { pest: string; version: number },
): Promise<{ id: string }> {
  const watch = await lockOpen(work, id);
  if (watch.version !== version) throw staleEdit('this watch');
  const { systemId, tankId } = watch;
  const same = await work.tx.pestWatch.findFirst({ where: { systemId, tankId, pest, endedAt: null } });
  const names = { before: pestOf(watch.pest).name, after: pestOf(pest).name };
  work.record('pest_watch.named', ofSystem(systemId), { watch: id, ...names });
  work.reevaluate(systemId);
  if (same === null || same.id === id) {
    await work.tx.pestWatch.update({ where: { id }, data: { pest, version: { increment: 1 } } });
    return { id };
  }
  if (watch.openedAt < same.openedAt)
    await work.tx.pestWatch.update({ where: { id: same.id }, data: { openedAt: watch.openedAt } });
  await joinWatches(work, id, same.id, `It is ${names.after}, for which this water is watched already.`);
  return { id: same.id };
}

/** Ends a watch in another, which takes over all that was seen and done. */
export async function joinWatches(work: Work, id: string, intoId: string, why: string): Promise<void> {
  const moved = { where: { watchId: id }, data: { watchId: intoId } };
  await work.tx.pestSighting.updateMany(moved);
  await work.tx.pestLook.updateMany(moved);
  await work.tx.pestTreatment.updateMany(moved);
  await work.tx.keptApartReason.updateMany(moved);
  await endWatch(work, id, why);
}

/** A look that showed a pest was voided: a watch that rested on it alone ends. */
export async function settleVoided(work: Work, conditionId: string): Promise<void> {
  const voided = await work.tx.pestSighting.findUnique({ where: { conditionId }, include: { watch: true } });
  if (voided === null || voided.watch === null) return;
  const { watch } = voided;
  work.reevaluate(watch.systemId);
  if (watch.endedAt !== null || watch.openedWhy !== '') return;
  const left = await work.tx.pestSighting.count({
    where: { watchId: watch.id, condition: { voidedAt: null } },
  });
  const found = await work.tx.pestLook.count({
    where: { watchId: watch.id, found: { gt: 0 }, voidedAt: null },
  });
  if (left + found === 0) await endWatch(work, watch.id, 'Every sighting of it was voided.');
}
