import { randomUUID } from 'node:crypto';
import type { Prisma } from '../../src/generated/prisma/client.ts';
import type { Work } from '../../src/platform/change.ts';
import { readerOf } from '../../src/platform/database/sql-reader.ts';
import { seenOf } from '../../src/platform/seen.ts';
import { hourMs, minuteMs } from '../../src/science/numeric/time.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { takeOrder } from '../../src/stock/orders/orders.ts';
import { packOrder } from '../../src/stock/orders/stages.ts';
import { boxOf, checkShipping, type NewShipment } from '../../src/stock/shipping/shipments.ts';

// Buyers and carriers of the invented farm.
const BUYERS = ['Shop on the quay', 'Lena Ostrow', 'Reef room of the old school', 'Tomé Arrais', 'M. Quint'];
/** Carriers with the hours they take and how often a piece is dead when the box is opened. */
const CARRIERS = [
  { carrier: 'Coast van', hours: 9, dies: 0.01 },
  { carrier: 'Night parcel', hours: 21, dies: 0.04 },
  { carrier: 'Ring courier', hours: 34, dies: 0.16 },
];

const WAY = ['asked', 'held', 'packed', 'gone', 'settled'] as const;

const box: NewShipment = {
  ...{ wall: 'foam', lengthMm: 400, widthMm: 300, bags: 8, litresABag: 1, method: 'submerged', pack: 'none' },
  ...{ carrier: 'Coast van', hours: 9, startDegC: 25, coldestDegC: 16, warmestDegC: 22 },
  ...{ claimHours: 12, despite: '' },
};

interface SoldLine {
  entryId: string;
  lotId: string;
  pieces: number;
  at: Date;
  priceMinor: number | null;
  accountId: string | null;
}

/** The rows of past orders. */
interface PastRows {
  orders: Prisma.SalesOrderCreateManyInput[];
  stages: Prisma.OrderStageChangeCreateManyInput[];
  sales: Prisma.SaleCreateManyInput[];
  lines: Prisma.OrderLineCreateManyInput[];
  boxes: Prisma.ShipmentCreateManyInput[];
}

/** The farm sells in euro: pieces by their size, mothers not at all. The prices are made up. */
export async function priceLots(work: Work, siteId: string): Promise<{ id: string; currency: string }> {
  const currency = 'EUR';
  await work.tx.site.update({ where: { id: siteId }, data: { currency } });
  await work.tx.$executeRaw`
    UPDATE lot SET price_minor = 600 + 50 * size_mm WHERE site_id = ${siteId}::uuid AND NOT is_mother AND size_mm IS NOT NULL`;
  return { id: siteId, currency };
}

/** What the farm's past sold, day by day, becomes orders that were sent and paid. No count changes. */
export async function sellPast(work: Work, site: { id: string; currency: string | null }): Promise<void> {
  const sold = await work.tx.$queryRaw<SoldLine[]>`
    SELECT entry.id AS "entryId", entry.lot_id AS "lotId", -entry.change AS pieces, entry.at, lot.price_minor AS "priceMinor",
           entry.account_id AS "accountId"
      FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id
     WHERE lot.site_id = ${site.id}::uuid AND entry.reason = 'sold' AND NOT EXISTS (SELECT FROM sale WHERE ledger_entry_id = entry.id)
     ORDER BY entry.at, entry.id`;
  const days = [...Map.groupBy(sold, ({ at }) => at.toISOString().slice(0, 10)).values()];
  const random = seededRandom(417);
  const rows: PastRows = { orders: [], stages: [], sales: [], lines: [], boxes: [] };
  for (const [i, lines] of days.entries()) addPast(rows, site, i + 1, lines, random);
  await work.tx.salesOrder.createMany({ data: rows.orders });
  await work.tx.orderStageChange.createMany({ data: rows.stages });
  await work.tx.sale.createMany({ data: rows.sales });
  await work.tx.orderLine.createMany({ data: rows.lines });
  await work.tx.shipment.createMany({ data: rows.boxes });
}

function addPast(
  rows: PastRows,
  site: { id: string; currency: string | null },
  number: number,
  lines: readonly SoldLine[],
  random: ReturnType<typeof seededRandom>,
): void {
  const at = new Date(Math.max(...lines.map((line) => line.at.getTime())));
  const id = randomUUID();
  const accountId = lines[0]?.accountId ?? null;
  const buyer = BUYERS[number % BUYERS.length] ?? '';
  const holdUntil = new Date(at.toISOString().slice(0, 10));
  const order = { id, siteId: site.id, number, buyer, currency: site.currency, holdUntil };
  rows.orders.push({ ...order, stage: 'settled', accountId, createdAt: at });
  for (const [i, stage] of WAY.entries()) {
    const when = new Date(at.getTime() + i * minuteMs);
    rows.stages.push({ orderId: id, fromStage: WAY[i - 1] ?? null, stage, accountId, at: when });
  }
  const by = CARRIERS[number % CARRIERS.length] as (typeof CARRIERS)[number];
  for (const [i, { lotId, pieces, priceMinor, entryId, ...line }] of lines.entries()) {
    const sale = { id: randomUUID(), lotId, pieces, buyer, ledgerEntryId: entryId };
    rows.sales.push({ ...sale, at: line.at, accountId: line.accountId });
    const dead = Array.from({ length: pieces }).filter(() => random.uniform() < by.dies).length;
    const row = { orderId: id, lotId, position: i + 1, pieces, priceMinor, saleId: sale.id };
    rows.lines.push({ ...row, deadOnArrival: dead });
  }
  const hours = by.hours + random.below(4);
  const arrivedAt = new Date(at.getTime() + hours * hourMs);
  const late = hours > by.hours + 2;
  rows.boxes.push({ ...box, orderId: id, carrier: by.carrier, hours, late, arrivedAt });
}

/** An order of five lots that lies packed, to be fetched by the carrier today. */
export async function packToday(
  work: Work,
  siteId: string,
  lots: readonly { id: string; priceMinor: number | null }[],
  until: string,
): Promise<void> {
  const lines = lots.map(({ id, priceMinor }) => ({ lotId: id, pieces: 1, priceMinor }));
  const contact = 'Old school, Ring Road 4';
  const asked = { siteId, buyer: 'Reef room of the old school', contact, note: '', until, despite: '' };
  const { id } = await takeOrder(work, { ...asked, lines, hold: true });
  const { version, lines: kept } = await work.tx.salesOrder.findUniqueOrThrow({
    where: { id },
    include: { lines: true },
  });
  const check = await checkShipping(readerOf(work.tx), id, boxOf(box));
  const packed = kept.map((line) => line.id);
  await packOrder(work, id, { packed, box, despite: '', boxSeen: seenOf(check.box?.lines ?? []), version });
}
