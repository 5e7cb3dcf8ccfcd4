import sharp from 'sharp';
import { change } from '../../src/platform/change.ts';
import { localDay } from '../../src/platform/days.ts';
import type { Service } from '../../src/platform/service.ts';
import { dayMs } from '../../src/science/numeric/time.ts';
import { holdPieces } from '../../src/stock/orders/single.ts';
import { lotReadiness } from '../../src/stock/sales/readiness.ts';
import { makeMark, setMark } from '../../src/tags/mark/mark.ts';
import { issueTag } from '../../src/tags/tags/tags.ts';
import { packToday, priceLots, sellPast } from './orders.ts';

/** The invented farm's mark: a lamp over two waves. */
const MARK = `<svg xmlns="http://www.w3.org/2000/svg" width="480" height="300"><rect width="480" height="300" fill="#fff"/>
  <g fill="none" stroke="#111" stroke-width="18"><path d="M40 190q50-50 100 0t100 0t100 0t100 0M40 250q50-50 100 0t100 0t100 0t100 0"/><path d="M240 40v80M180 120h120"/></g></svg>`;

/** The trade of the grown farm: its past sales as orders, two tags, one of them sold, a hold, and an order that lies packed. */
export async function openShop(service: Service): Promise<void> {
  const site = await service.db.site.findFirstOrThrow({ orderBy: { createdAt: 'asc' } });
  const seller = await service.db.account.findFirstOrThrow({ where: { role: 'manager' } });
  const ask = { siteId: site.id, timeZone: site.timeZone };
  const { rows: places } = await service.pool.query<{ id: string; slots: number }>(
    'SELECT lot_id AS id, count(*)::int AS slots FROM lot_place GROUP BY lot_id',
  );
  const slotsOf = new Map(places.map(({ id, slots }) => [id, slots]));
  // Where pieces share slots, one that is sold leaves none empty.
  const ready = (await lotReadiness(service.pool, ask, service.now())).filter(
    ({ id, reasons, pieces }) => reasons.length === 0 && pieces > 2 && pieces > (slotsOf.get(id) ?? pieces),
  );
  const [first, second, third, ...others] = ready;
  if (first === undefined || second === undefined || third === undefined) return;
  const tag = { pieces: 1, reason: '', holdId: null };
  await change(service, { accountId: null }, async (work) => {
    await sellPast(work, await priceLots(work, site.id));
    work.record('demo.grown', { type: 'site', id: site.id }, { what: 'past orders' });
  });
  const mark = await makeMark(await sharp(Buffer.from(MARK)).png().toBuffer());
  await change(service, { accountId: seller.id }, async (work) => {
    await setMark(work, site.id, mark);
    await issueTag(service, work, { ...tag, lot: first.id, sold: true, buyer: 'Shop on the quay' });
    await issueTag(service, work, { ...tag, lot: second.id, sold: false, buyer: '' });
    const until = localDay(new Date(service.now().getTime() + 5 * dayMs), site.timeZone);
    await holdPieces(work, {
      lotId: third.id,
      pieces: 2,
      buyer: 'Tomé Arrais',
      until,
      note: 'comes on Saturday',
    });
    const five = await work.tx.lot.findMany({
      where: { id: { in: others.slice(0, 5).map(({ id }) => id) } },
      select: { id: true, priceMinor: true },
    });
    if (five.length > 0) await packToday(work, site.id, five, until);
  });
}
