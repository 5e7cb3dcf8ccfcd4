import { change, type Work } from '../../src/platform/change.ts';
import { readerOf } from '../../src/platform/database/sql-reader.ts';
import type { Service } from '../../src/platform/service.ts';
import { daysBefore, minuteMs } from '../../src/science/numeric/time.ts';
import { piecesOfLots } from '../../src/stock/base/lot-lock.ts';
import { settleDifference } from '../../src/stock/stocktakes/differences.ts';
import { lotsOf, openCount, racksOf, type StocktakeLot } from '../../src/stock/stocktakes/state.ts';
import {
  beginStocktake,
  closeStocktake,
  countRack,
  setStocktakeRoutine,
} from '../../src/stock/stocktakes/stocktakes.ts';

/** Days ago the closed stocktake was walked; how many racks it had, and how many the open one has. */
const [BEFORE, CLOSED_RACKS, OPEN_RACKS] = [40, 4, 3] as const;

const rackQuery = `
  SELECT rack_id AS id, count(DISTINCT lot_id)::int AS lots FROM lot_place JOIN lot ON lot.id = lot_place.lot_id
   WHERE lot.site_id = $1::uuid GROUP BY rack_id HAVING max(from_at) < $2::timestamptz AND count(DISTINCT lot_id) BETWEEN 3 AND 14
   ORDER BY count(DISTINCT lot_id) DESC, rack_id`;

/**
 * A stocktake of some weeks ago, closed with two differences settled, and one that is open: its first rack is counted, with
 * one lot that differs and one that differs by so much that it is to be counted again.
 */
export async function takeStock(service: Service): Promise<void> {
  const { db } = service;
  const site = await db.site.findFirstOrThrow({ orderBy: { createdAt: 'asc' } });
  const manager = await db.account.findFirstOrThrow({ where: { role: 'manager' } });
  const hand = await db.account.findFirstOrThrow({ where: { role: 'hand' } });
  const then = daysBefore(service.now(), BEFORE);
  const { rows } = await service.pool.query<{ id: string }>(rackQuery, [site.id, then]);
  const rackIds = rows.map(({ id }) => id);
  if (rackIds.length < OPEN_RACKS) return;
  const asked = { hidden: true, twoPeople: false };
  await change(service, { accountId: manager.id }, async (work) => {
    const past: Work = { ...work, now: then };
    await setStocktakeRoutine(past, site.id, 90);
    const name = 'Racks of the autumn';
    const { id } = await beginStocktake(past, site.id, {
      ...asked,
      name,
      rackIds: rackIds.slice(0, CLOSED_RACKS),
    });
    const large = await countAll({ ...past, accountId: hand.id }, id, [1, -1]);
    for (const [lot, difference] of large)
      await settleDifference({ ...past, accountId: hand.id }, site.timeZone, lot.lineId as string, {
        ...{
          as: difference > 0 ? 'found' : 'lost',
          cause: 'astray',
          buyer: '',
          note: '',
          slot: '',
          despite: '',
        },
        difference,
      });
    await closeStocktake({ ...past, now: new Date(then.getTime() + 90 * minuteMs) }, id, '');
  });
  await change(service, { accountId: manager.id }, async (work) => {
    const name = 'Before the winter sale';
    const { id } = await beginStocktake(work, site.id, {
      ...asked,
      name,
      rackIds: rackIds.slice(0, OPEN_RACKS),
    });
    await countAll({ ...work, accountId: hand.id }, id, [-2, -4], 1);
  });
}

/**
 * Counts the racks of the open stocktake as the records say, but for its largest lots, which differ by so many pieces.
 * @returns the lots that differ
 */
async function countAll(
  work: Work,
  id: string,
  differences: readonly number[],
  racksCounted = Number.POSITIVE_INFINITY,
): Promise<[StocktakeLot, number][]> {
  const reader = readerOf(work.tx);
  const { siteId } = await work.tx.stocktake.findUniqueOrThrow({ where: { id } });
  const open = await openCount(reader, siteId);
  const racks = (open?.racks ?? []).slice(0, racksCounted);
  const lots = racks.flatMap((rack) => open?.lots.get(rack.id) ?? []);
  const pieces = await piecesOfLots(
    reader,
    lots.flatMap(({ lotId }) => lotId ?? []),
    work.now,
  );
  const there = ({ lotId }: StocktakeLot) => pieces.get(lotId ?? '') ?? 0;
  const large = [...lots].sort((a, b) => there(b) - there(a) || a.code.localeCompare(b.code));
  const differs = new Map(
    differences.flatMap((difference, i) => (large[i]?.lotId ? [[large[i].lotId, difference] as const] : [])),
  );
  for (const rack of racks) {
    const counted = lots.filter(({ rackId }) => rackId === rack.id);
    await countRack(
      work,
      { stocktakeId: id, rackId: rack.id, at: work.now },
      {
        lots: counted.map((lot) => ({
          lotId: lot.lotId as string,
          pieces: there(lot) + (differs.get(lot.lotId ?? '') ?? 0),
        })),
        found: [],
      },
    );
  }
  const stocktake = { id, twoPeople: false, closedAt: null };
  const ids = (await racksOf(reader, id)).map((rack) => rack.id);
  const now = await lotsOf(reader, stocktake, ids);
  return now.flatMap((lot) => {
    const difference = differs.get(lot.lotId ?? '');
    return difference === undefined ? [] : [[lot, difference] as [StocktakeLot, number]];
  });
}
