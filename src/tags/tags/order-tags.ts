import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { isOpenStage } from '../../stock/orders/orders.rules.ts';
import { lockOrder, setLineTag } from '../../stock/orders/orders.ts';
import { orderState } from '../../stock/orders/state.ts';
import { issueTag } from './tags.ts';

/**
 * Issues a tag for the pieces of every line of an order that has none.
 * @returns the tags of all its lines, in their order
 * @throws Refusal 404; 409 where the order has gone; as `issueTag`
 */
export async function tagOrder(
  service: Service,
  work: Work,
  id: string,
  { reason, hidePhoto }: { reason: string; hidePhoto: boolean },
): Promise<string[]> {
  await lockOrder(work, id);
  const { stage, lines } = await orderState(readerOf(work.tx), id);
  if (!isOpenStage(stage))
    throw new Refusal('This order has left the farm: its pieces are tagged before that.', { status: 409 });
  const ids: string[] = [];
  for (const { id: lineId, tagId, pieces, code } of lines) {
    if (tagId !== null) {
      ids.push(tagId);
      continue;
    }
    const tag = { lot: code, pieces, reason, sold: false, buyer: '', holdId: null, hidePhoto };
    const issued = await issueTag(service, work, tag);
    await setLineTag(work, lineId, issued.id);
    ids.push(issued.id);
  }
  return ids;
}
