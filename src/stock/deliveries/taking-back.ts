import { endLook } from '../../farm/looks/looks.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lotHref } from '../base/lot-href.ts';
import { type HeldAbove, restingOnLots, restsInWords } from '../lots/resting.ts';
import { takeLotsBack } from '../lots/taking-back.ts';
import { recountQuarantines } from '../quarantine/arrivals.ts';
import { claimKey, findDelivery, lookKeys } from './deliveries.ts';

/** Something that was done with a delivery or its lots since it was taken in. */
export interface RestsOnDelivery {
  /** The lot's code; '' for the delivery itself. */
  code: string;
  /** "is on order 7", "Its claim is not settled" */
  what: string;
  /** It has to be taken back first, at its own place. */
  holds: boolean;
  /** Where that is. */
  href: string;
}

type Delivery = Awaited<ReturnType<typeof findDelivery>>;

const lotsOf = ({ lines }: Delivery): string[] => lines.flatMap(({ lot }) => lot?.id ?? []);

/** What was done with a delivery and its lots, first what keeps it from being taken back. Two queries and one for each area above. */
export async function restingOnDelivery(
  reader: SqlReader,
  delivery: Delivery,
  heldAbove: readonly HeldAbove[],
): Promise<RestsOnDelivery[]> {
  const { id, claimedAt, claimResult } = delivery;
  const lotIds = lotsOf(delivery);
  const onLots = await restingOnLots(reader, lotIds);
  const above: RestsOnDelivery[] = [];
  for (const held of heldAbove)
    above.push(...(await held(reader, lotIds)).map((one) => ({ ...one, holds: true })));
  const papers = await reader.query<{ name: string }>(
    'SELECT name FROM attached_file WHERE delivery_id = $1::uuid AND voided_at IS NULL ORDER BY created_at, id',
    [id],
  );
  const own = { code: '', href: `/stock/deliveries/${id}` };
  const all = [
    ...onLots.map(({ code, what, holds, href }) => ({ code, what, holds, href: href || lotHref(code) })),
    ...above,
    ...(claimedAt === null || claimResult !== ''
      ? []
      : [{ ...own, what: 'Its claim is not settled', holds: true }]),
    ...(claimResult === '' ? [] : [{ ...own, what: `Its claim was settled: ${claimResult}`, holds: false }]),
    ...papers.rows.map(({ name }) => ({
      ...{ code: '', what: `It has the file ${name}`, holds: false, href: `/files/delivery/${id}` },
    })),
  ];
  return all.toSorted((a, b) => Number(b.holds) - Number(a.holds));
}

/** Kept where nobody said what was wrong, and nothing was done with it. */
const unsaid = 'no reason was given';

/**
 * Takes a delivery back that was entered wrongly: its lots count no pieces, its looks and its claim are no longer asked for,
 * and the quarantine counts as without it. The delivery, and what was noted of its lots, stay in view.
 * @param reason may be empty while nothing was done with it
 * @returns the tanks of which the quarantine runs on
 * @throws Refusal 404; 409 where it was taken back, or something holds it; 422 without a reason where something was done with it
 */
export async function takeDeliveryBack(
  work: Work,
  id: string,
  { reason, heldAbove }: { reason: string; heldAbove: readonly HeldAbove[] },
): Promise<{ quarantines: string[] }> {
  const reader = readerOf(work.tx);
  const delivery = await findDelivery(work.tx, id);
  const lotIds = lotsOf(delivery);
  await work.tx.$queryRaw`SELECT id FROM lot WHERE id = ANY(${lotIds}::uuid[]) ORDER BY id FOR UPDATE`;
  const rests = await restingOnDelivery(reader, delivery, heldAbove);
  refuseHeld(rests);
  if (reason === '' && rests.length > 0)
    throw new Refusal('Something was done with it since. Say what was wrong with it.', { field: 'reason' });
  const why = reason || unsaid;
  const data = { voidedAt: work.now, voidReason: why, version: { increment: 1 } };
  const { count } = await work.tx.delivery.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This delivery was taken back already.', { status: 409 });
  const tanks = await tanksOf(reader, lotIds);
  await takeLotsBack(work, lotIds, `Taken back with the delivery: ${why}`);
  const quarantines = await recountQuarantines(work, tanks, { lotIds, since: delivery.createdAt });
  for (const key of [claimKey(id), ...lookKeys(id)]) await endLook(work, key, { note: why });
  const { supplier } = delivery;
  work.record(
    'delivery.taken_back',
    { type: 'delivery', id },
    { supplier, lots: lotIds.length, reason: why },
  );
  return { quarantines };
}

function refuseHeld(rests: readonly RestsOnDelivery[]): void {
  const holding = rests.filter(({ holds }) => holds);
  if (holding.length === 0) return;
  const lots = holding.filter(({ code }) => code !== '');
  const own = holding.filter(({ code }) => code === '').map(({ what }) => what);
  const said = [...(lots.length === 0 ? [] : [restsInWords(lots)]), ...own].join('. ');
  throw new Refusal(`It cannot be taken back: ${said}. Take that back first.`, { status: 409 });
}

async function tanksOf(reader: SqlReader, lotIds: readonly string[]): Promise<string[]> {
  const { rows } = await reader.query<{ id: string }>(
    'SELECT DISTINCT tank_id AS id FROM lot_place WHERE lot_id = ANY($1::uuid[])',
    [[...lotIds]],
  );
  return rows.map(({ id }) => id);
}
