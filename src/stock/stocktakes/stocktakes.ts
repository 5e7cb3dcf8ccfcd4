import { uuidv7 } from 'uuidv7';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { readCode } from '../base/codes.ts';
import { expectedThen, findStocktake, lotsOf, progressOf, racksOf } from './state.ts';
import type { RackCounts } from './stocktakes.schema.ts';

export const ofStocktake = (id: string) => ({ type: 'stocktake' as const, id });

/** A stocktake to begin; no racks: all racks of the site with lots on them. */
export interface NewStocktake {
  name: string;
  rackIds: readonly string[];
  hidden: boolean;
  twoPeople: boolean;
}

const racksQuery = `
  SELECT rack.id FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1::uuid AND system.retired_at IS NULL
     AND CASE WHEN cardinality($2::uuid[]) = 0 THEN EXISTS (SELECT 1 FROM lot_place WHERE lot_place.rack_id = rack.id) ELSE rack.id = ANY($2::uuid[]) END
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name, rack.id`;

/**
 * Begins a stocktake of these racks, in the farm's order.
 * @throws Refusal 409 where one is open; 422 where there is no rack to count
 */
export async function beginStocktake(
  work: Work,
  siteId: string,
  { name, rackIds, hidden, twoPeople }: NewStocktake,
): Promise<{ id: string }> {
  const open = await work.tx.stocktake.findFirst({ where: { siteId, closedAt: null } });
  if (open !== null)
    throw new Refusal(`“${open.name}” is open. Close it first: one stocktake at a time.`, { status: 409 });
  const { rows } = await readerOf(work.tx).query<{ id: string }>(racksQuery, [siteId, [...rackIds]]);
  if (rows.length === 0)
    throw new Refusal('No lot is on a rack. Place lots first, or tick the racks to count.', {
      field: 'rackIds',
    });
  const racks = { create: rows.map(({ id: rackId }, position) => ({ rackId, position })) };
  const { id } = await work.tx.stocktake.create({
    data: { siteId, name, hidden, twoPeople, startedAt: work.now, startedById: work.accountId, racks },
  });
  work.record('stocktake.begun', ofStocktake(id), { name, racks: rows.length, hidden, twoPeople });
  return { id };
}

/** The stocktake, locked until the change is done. @throws Refusal 404; 409 where it is closed */
export async function lockOpen(work: Work, id: string) {
  await work.tx.$queryRaw`SELECT id FROM stocktake WHERE id = ${id}::uuid FOR UPDATE`;
  const stocktake = await findStocktake(readerOf(work.tx), id);
  if (stocktake.closedAt !== null)
    throw new Refusal(`The stocktake “${stocktake.name}” is closed. Nothing can be changed in it any more.`, {
      status: 409,
    });
  return stocktake;
}

/**
 * Enters what was counted on a rack at a time. What was found is a lot by its code, or stays what it was called. A lot that
 * was settled and is counted again stays settled where the count is what the records say since; otherwise it is open again.
 * @returns the ids of the counts
 * @throws Refusal 404; 409 where the stocktake is closed
 */
export async function countRack(
  work: Work,
  { stocktakeId, rackId, at }: { stocktakeId: string; rackId: string; at: Date },
  { lots, found }: RackCounts,
): Promise<{ countIds: string[]; rack: string; pieces: number }> {
  const { siteId } = await lockOpen(work, stocktakeId);
  const rack = (await racksOf(readerOf(work.tx), stocktakeId)).find(({ id }) => id === rackId);
  if (rack === undefined) throw notFound('This rack, in this stocktake,');
  const counts: { lotId: string | null; foundAs: string; pieces: number }[] = lots.map((one) => ({
    ...one,
    foundAs: '',
  }));
  for (const one of found)
    counts.push({ lotId: await lotNamed(work, siteId, one.as), foundAs: one.as, pieces: one.pieces });
  await refuseUnknown(work, siteId, counts);
  const rows = [];
  for (const { lotId, foundAs, pieces } of counts) {
    const lineId = await lineOf(work, { stocktakeId, rackId, lotId, foundAs });
    rows.push({ id: uuidv7(), lineId, pieces, expected: 0, at, accountId: work.accountId });
  }
  await work.tx.stocktakeCount.createMany({ data: rows });
  const countIds = rows.map(({ id }) => id);
  await fixExpected(
    work,
    rows.map(({ lineId }) => lineId),
    countIds,
  );
  await openSettled(work, countIds);
  const pieces = counts.reduce((sum, one) => sum + one.pieces, 0);
  const what = { rack: rack.name, lots: counts.length, pieces, at };
  work.record('stocktake.counted', ofStocktake(stocktakeId), what);
  return { countIds, rack: rack.name, pieces };
}

/** The lot of this site that a code means; null where the text is none. */
async function lotNamed(work: Work, siteId: string, text: string): Promise<string | null> {
  const read = readCode(text);
  const own = [{ ownCode: { equals: text, mode: 'insensitive' as const } }];
  const byCode = read.ok ? [{ code: read.code }] : [];
  const lot = await work.tx.lot.findFirst({
    where: { siteId, OR: [...byCode, ...own] },
    select: { id: true },
  });
  return lot?.id ?? null;
}

async function refuseUnknown(
  work: Work,
  siteId: string,
  counts: readonly { lotId: string | null }[],
): Promise<void> {
  const ids = [...new Set(counts.flatMap(({ lotId }) => lotId ?? []))];
  if ((await work.tx.lot.count({ where: { id: { in: ids }, siteId } })) !== ids.length)
    throw notFound('One of these lots');
}

async function lineOf(
  work: Work,
  line: { stocktakeId: string; rackId: string; lotId: string | null; foundAs: string },
): Promise<string> {
  const { stocktakeId, rackId, lotId } = line;
  const there =
    lotId === null ? null : await work.tx.stocktakeLine.findFirst({ where: { stocktakeId, rackId, lotId } });
  return (there ?? (await work.tx.stocktakeLine.create({ data: line }))).id;
}

/** Opens the settled lines of which these counts say something else than the records, and keeps with each count what it was. */
async function openSettled(work: Work, countIds: readonly string[]): Promise<void> {
  const counts = await work.tx.stocktakeCount.findMany({
    where: { id: { in: [...countIds] }, line: { settledAt: { not: null } } },
    include: { line: true },
  });
  for (const { id, pieces, expected, line } of counts) {
    if (pieces === expected) continue;
    const { reason, note, change, settledAt, settledById, ledgerEntryId } = line;
    const reopened = {
      reason,
      note,
      change,
      settledAt: settledAt?.toISOString() ?? null,
      settledById,
      ledgerEntryId,
    };
    await work.tx.stocktakeCount.update({ where: { id }, data: { reopened } });
    await work.tx.stocktakeLine.update({ where: { id: line.id }, data: unsettled });
  }
}

/** What a count that is taken back had opened is settled again, unless a later count stands: that one has it then. */
async function settleAgain(
  work: Work,
  { id, lineId, reopened }: { id: string; lineId: string; reopened: Prisma.JsonValue },
): Promise<void> {
  if (reopened === null) return;
  const later = await work.tx.stocktakeCount.findFirst({
    where: { lineId, voidedAt: null, id: { gt: id } },
    orderBy: { id: 'asc' },
  });
  if (later !== null) {
    if (later.reopened === null)
      await work.tx.stocktakeCount.update({ where: { id: later.id }, data: { reopened } });
    return;
  }
  const was = reopened as Prisma.StocktakeLineUncheckedUpdateInput & { ledgerEntryId: string | null };
  const entry =
    was.ledgerEntryId === null
      ? null
      : await work.tx.ledgerEntry.findUnique({ where: { id: was.ledgerEntryId } });
  // A loss that was taken back on its own page meanwhile settles nothing.
  if (was.ledgerEntryId !== null && entry?.voidedAt !== null) return;
  await work.tx.stocktakeLine.updateMany({ where: { id: lineId, settledAt: null }, data: was });
}

/** A line as it is before anybody said what its difference was. */
export const unsettled = {
  ...{ reason: null, note: '', change: null, settledAt: null, settledById: null, ledgerEntryId: null },
} as const;

/**
 * Keeps what the records say by now of the times of these lines' counts. What the earlier counts of a settled line were
 * compared with stays as it was settled.
 * @param newCounts counts that were never compared
 */
export async function fixExpected(
  work: Work,
  lineIds: readonly string[],
  newCounts: readonly string[] = [],
): Promise<void> {
  await readerOf(work.tx).query(
    `UPDATE stocktake_count SET expected = ${expectedThen.replaceAll('taken.', 'stocktake_count.')}
       FROM stocktake_line AS line WHERE stocktake_count.line_id = line.id AND line.id = ANY($1::uuid[])
        AND (line.settled_at IS NULL OR stocktake_count.id = ANY($2::uuid[]))`,
    [[...lineIds], [...newCounts]],
  );
}

/** Takes counts back that came by mistake, as a round does. A closed stocktake keeps them. */
export async function voidCounts(work: Work, countIds: readonly string[]): Promise<void> {
  const counts = await work.tx.stocktakeCount.findMany({
    where: { id: { in: [...countIds] }, voidedAt: null },
    include: { line: true },
  });
  const [first] = counts;
  if (first === undefined) return;
  await lockOpen(work, first.line.stocktakeId);
  await work.tx.stocktakeCount.updateMany({
    where: { id: { in: counts.map(({ id }) => id) } },
    data: { voidedAt: work.now },
  });
  for (const count of counts) await settleAgain(work, count);
  const lots = counts.length;
  work.record('stocktake.count_taken_back', ofStocktake(first.line.stocktakeId), { lots });
}

/**
 * Closes a stocktake. Lots that nobody counted are kept as not counted, differences that nobody settled as open; both stay
 * as they are.
 * @throws Refusal 404; 409 where it is closed
 */
export async function closeStocktake(work: Work, id: string, note: string): Promise<void> {
  const stocktake = await lockOpen(work, id);
  const reader = readerOf(work.tx);
  const racks = await racksOf(reader, id);
  const lots = await lotsOf(
    reader,
    stocktake,
    racks.map((rack) => rack.id),
  );
  const uncounted = lots.filter(({ lineId }) => lineId === null);
  await work.tx.stocktakeLine.createMany({
    data: uncounted.map(({ rackId, lotId }) => ({ stocktakeId: id, rackId, lotId })),
  });
  await fixExpected(
    work,
    lots.flatMap(({ lineId, reason }) => (lineId === null || reason !== null ? [] : [lineId])),
  );
  const { all, left, again, differ } = progressOf(lots);
  await work.tx.stocktake.update({
    where: { id },
    data: { closedAt: work.now, closedById: work.accountId, note },
  });
  const summed = { lots: all, notCounted: left - again, notSettled: differ + again };
  work.record('stocktake.closed', ofStocktake(id), { name: stocktake.name, ...summed, note });
}

/** Says how often the site counts its stock; null: no routine. */
export async function setStocktakeRoutine(
  work: Work,
  siteId: string,
  everyDays: number | null,
): Promise<void> {
  if (everyDays === null) await work.tx.stocktakeRoutine.deleteMany({ where: { siteId } });
  else
    await work.tx.stocktakeRoutine.upsert({
      where: { siteId },
      create: { siteId, everyDays, since: work.now },
      update: { everyDays },
    });
  work.record('stocktake.routine_set', { type: 'site', id: siteId }, { everyDays });
}
