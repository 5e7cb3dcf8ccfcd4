import type pg from 'pg';
import { groupBySystem } from './group-by-system.ts';
import { before, historyDays, type Span } from './span.ts';
import type { LeftFact } from './types.ts';

// Pieces that stand in a system, as what changed them: lots set there and taken away, and their ledger while they stood there. Of a
// day leave those sold and lost, and those that were set elsewhere beyond those that came.
const query = `
  WITH stay AS (
    SELECT DISTINCT tank.system_id, placement.id, placement.lot_id, placement.from_at, placement.to_at
      FROM tank
      JOIN rack ON rack.tank_id = tank.id JOIN slot ON slot.rack_id = rack.id
      JOIN placement_slot AS held ON held.slot_id = slot.id AND (held.to_at IS NULL OR held.to_at > $2)
      JOIN placement ON placement.id = held.placement_id AND placement.from_at <= $3
     WHERE tank.system_id = ANY($1)),
  delta AS (
    SELECT stay.system_id, entry.at, entry.change AS pieces,
           CASE WHEN entry.reason IN ('sold', 'lost') THEN -entry.change ELSE 0 END AS gone, 0 AS moved
      FROM stay JOIN ledger_entry AS entry ON entry.lot_id = stay.lot_id
     WHERE entry.voided_at IS NULL AND entry.at > stay.from_at AND entry.at <= least(coalesce(stay.to_at, $3), $3)
    UNION ALL
    SELECT stay.system_id, edge.at, edge.sign * held.pieces, 0, edge.sign * held.pieces
      FROM stay
     CROSS JOIN LATERAL (VALUES (stay.from_at, 1), (stay.to_at, -1)) AS edge(at, sign)
     CROSS JOIN LATERAL (
       SELECT coalesce(sum(change), 0) AS pieces FROM ledger_entry
        WHERE lot_id = stay.lot_id AND voided_at IS NULL AND at <= edge.at) AS held
     WHERE edge.at <= $3),
  daily AS (
    SELECT system_id, date_trunc('day', at AT TIME ZONE 'UTC') AS day, sum(pieces) AS pieces,
           sum(gone) + greatest(0, -sum(moved)) AS gone
      FROM delta GROUP BY system_id, date_trunc('day', at AT TIME ZONE 'UTC')),
  standing AS (
    SELECT system_id, day, gone,
           sum(pieces) OVER (PARTITION BY system_id ORDER BY day ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS stood
      FROM daily)
  SELECT system_id AS "systemId", (date_part('epoch', day AT TIME ZONE 'UTC') / 86400 + 0.5)::float8 AS day,
         least(1, gone / stood)::float8 AS share
    FROM standing WHERE gone > 0 AND stood > 0 AND day > ($2::timestamptz AT TIME ZONE 'UTC') ORDER BY day`;

/** Parts of the pieces of each system that were sold, lost or taken elsewhere, by day (its noon, UTC), oldest first. One query. */
export async function loadLeft(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LeftFact[]>> {
  const values = [systemIds, before(span, historyDays('alkalinity')), span.now];
  const { rows } = await pool.query<LeftFact & { systemId: string }>(query, values);
  return groupBySystem(rows, (row) => row);
}
