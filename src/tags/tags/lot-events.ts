import type { LotEventSource } from '../../stock/lot-page/timeline.ts';

/** The tags issued for a lot, for its timeline. */
export const tagEvents: LotEventSource = `
  SELECT id, issued_at, 'tag', account_id, reason,
         json_build_object('pieces', pieces, 'tagId', id, 'withdrawn', withdrawn_reason)
    FROM tag WHERE lot_id = $1`;
