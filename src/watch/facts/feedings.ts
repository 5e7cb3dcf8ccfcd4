import type pg from 'pg';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import { before, type Span } from '../../water/record/span.ts';
import { sqlMs, withTime } from '../../water/record/times.ts';
import type { FeedingFact } from './types.ts';

const feedingDays = 60;

interface Row extends Omit<FeedingFact, 'day' | 'at'> {
  systemId: string;
  ms: number;
}

const query = `
  SELECT feeding.id, feeding.system_id AS "systemId", ${sqlMs('feeding.at')}, feeding.tank_id AS "tankId",
         coalesce(tank.name, '') AS "tankName", feeding.food
    FROM feeding LEFT JOIN tank ON tank.id = feeding.tank_id
   WHERE feeding.system_id = ANY($1) AND feeding.at > $2 AND feeding.at <= $3 AND feeding.voided_at IS NULL
   ORDER BY feeding.at, feeding.id`;

/** Logged feedings of the last 60 days, oldest first, by system. */
export async function loadFeedings(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, FeedingFact[]>> {
  const { rows } = await pool.query<Row>(query, [systemIds, before(span, feedingDays), span.now]);
  return groupBySystem(rows, withTime);
}
