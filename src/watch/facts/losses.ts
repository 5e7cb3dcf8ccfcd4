import type pg from 'pg';
import { dayOf } from '../../science/numeric/time.ts';
import { lossHistories } from '../../stock/losses/history.ts';
import type { LossHistory } from '../../stock/losses/usual.rules.ts';
import { before, longestDays, type Span } from '../../water/record/span.ts';
import { timeOf } from '../../water/record/times.ts';
import type { ConditionFact, GoneLotFact } from './types.ts';

/** Which lots stood in each system, and which lost pieces, by system. Two queries. */
export const loadLosses = (
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LossHistory>> =>
  lossHistories(pool, systemIds, { since: before(span, longestDays), now: span.now });

/** What went so long ago no longer tells of the water, days; own choice: an alert on flesh loss opens for a week. */
const goneDays = 14;

interface GoneRow {
  id: string;
  systemId: string;
  code: string;
  ownName: string;
  kindName: string;
  parentId: string | null;
  place: string;
  leftAt: Date;
  cutAt: Date | null;
  looks: (Omit<ConditionFact, 'at' | 'day'> & { ms: number })[];
}

// A lot that was last seen losing flesh and was then taken out of its water, or died there, is as good a sign of that water as one
// that stands in it still. A loss by any other cause is none.
const goneQuery = `
  WITH gone AS (
    SELECT placement.lot_id, tank.system_id, max(held.to_at) AS left_at,
           (array_agg(rack.name || ', ' || chr(64 + slot.row) || slot."column" ORDER BY held.to_at DESC, slot.row, slot."column"))[1] AS place
      FROM tank
      JOIN rack ON rack.tank_id = tank.id
      JOIN slot ON slot.rack_id = rack.id
      JOIN placement_slot AS held ON held.slot_id = slot.id AND held.to_at > $2 AND held.to_at <= $3
      JOIN placement ON placement.id = held.placement_id
     WHERE tank.system_id = ANY($1)
     GROUP BY placement.lot_id, tank.system_id)
  SELECT lot.id, gone.system_id AS "systemId", lot.code, coalesce(nullif(lot.own_code, ''), lot.trade_name) AS "ownName",
         kind.name AS "kindName", lot.parent_id AS "parentId", gone.place, gone.left_at AS "leftAt", seen.looks,
         (SELECT max(cut.at) FROM cut WHERE cut.from_lot_id = lot.id OR cut.into_lot_id = lot.id) AS "cutAt"
    FROM gone
    JOIN lot ON lot.id = gone.lot_id
    JOIN kind ON kind.id = lot.kind_id
   CROSS JOIN LATERAL (
     SELECT json_agg(json_build_object('id', look.id, 'ms', date_part('epoch', look.at) * 1000, 'state', look.state, 'grade', look.grade,
                     'compared', look.compared, 'note', look.note) ORDER BY look.at DESC, look.created_at DESC, look.id DESC) AS looks
       FROM condition AS look
      WHERE look.lot_id = lot.id AND look.voided_at IS NULL AND look.at > $2 AND look.at <= gone.left_at + interval '1 minute'
        AND (look.state <> 'lost' OR EXISTS (
          SELECT 1 FROM ledger_entry AS entry
           WHERE entry.lot_id = lot.id AND entry.at = look.at AND entry.cause = 'flesh_gone' AND entry.voided_at IS NULL))) AS seen
   WHERE seen.looks -> 0 ->> 'state' IN ('receding', 'lost')
     AND NOT EXISTS (
       SELECT 1 FROM placement AS stands
         JOIN placement_slot AS standing ON standing.placement_id = stands.id AND standing.to_at IS NULL
         JOIN slot ON slot.id = standing.slot_id JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
        WHERE stands.lot_id = lot.id AND tank.system_id = gone.system_id AND lot.pieces > 0)
   ORDER BY lot.code`;

/** The lots that lost flesh when they left each system of late, taken out or dead, by system. One query. */
export async function loadGoneLots(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, GoneLotFact[]>> {
  const { rows } = await pool.query<GoneRow>(goneQuery, [systemIds, before(span, goneDays), span.now]);
  const factOf = ({ systemId: _, leftAt, cutAt, looks, ...kept }: GoneRow): GoneLotFact => ({
    ...kept,
    leftDay: dayOf(leftAt),
    cutDay: cutAt === null ? null : dayOf(cutAt),
    conditions: looks.map(({ ms, ...look }) => ({ ...look, ...timeOf(ms) })),
  });
  return new Map(
    [...Map.groupBy(rows, ({ systemId }) => systemId)].map(([id, own]) => [id, own.map(factOf)]),
  );
}
