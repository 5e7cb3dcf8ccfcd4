import type pg from 'pg';
import { lossHistories } from '../../stock/losses/history.ts';
import type { LossHistory } from '../../stock/losses/usual.rules.ts';
import { before, longestDays, type Span } from '../../water/record/span.ts';

/** Which lots stood in each system, and which lost pieces, by system. Two queries. */
export const loadLosses = (
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LossHistory>> =>
  lossHistories(pool, systemIds, { since: before(span, longestDays), now: span.now });
