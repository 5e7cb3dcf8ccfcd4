import { change } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import { lockOrder, releaseLines, writeStage } from './orders.ts';

/** The queue that ends holds whose last day is over. */
export const holdEndQueue = 'hold-ends';

const overQuery = `
  SELECT sales_order.id, to_char(sales_order.hold_until, 'FMDD Mon YYYY') AS until
    FROM sales_order JOIN site ON site.id = sales_order.site_id
   WHERE sales_order.stage = 'held' AND sales_order.hold_until < ($1::timestamptz AT TIME ZONE site.time_zone)::date
   ORDER BY sales_order.created_at, sales_order.id`;

/**
 * Lets go of what was held until a day that is over; the order is asked for again, and says so. What is packed stays
 * promised. Each order is a change of its own.
 */
export async function endHolds(service: Service, now: Date): Promise<void> {
  const { rows } = await service.pool.query<{ id: string; until: string }>(overQuery, [now]);
  for (const { id, until } of rows)
    await change(service, { accountId: null }, async (work) => {
      const order = await lockOrder(work, id);
      if (order.stage !== 'held') return;
      const reason = `Its last day, ${until}, is over`;
      await releaseLines(work, id, reason);
      await writeStage(work, order, { from: 'held', to: 'asked', reason });
    });
}
