import type pg from 'pg';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { Severity } from '../../generated/prisma/enums.ts';

/** A slot as the drawing of the whole farm shows it. */
export interface RoomSlot extends Cell {
  rackId: string;
  /** umol/(m2 s) at full light as the lamps are set now; null where it was never measured. */
  par: number | null;
  lotId: string | null;
  /** Of the lot's most urgent open alert that is not put off. */
  severity: Severity | null;
}

// Light and lots of these racks alone: joined to whole views, all racks of the farm would be read for them.
const query = `
  WITH wrong AS MATERIALIZED (
    SELECT lot_id, min(severity) AS severity FROM lot_alert WHERE put_off_until IS NULL OR put_off_until <= $2 GROUP BY lot_id),
  lit AS MATERIALIZED (SELECT slot_id, par FROM slot_light_now WHERE rack_id = ANY($1::uuid[])),
  here AS MATERIALIZED (
    SELECT taken.slot_id, placement.lot_id
      FROM slot JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
      JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
     WHERE slot.rack_id = ANY($1::uuid[]))
  SELECT slot.rack_id AS "rackId", slot.row, slot."column", lit.par, here.lot_id AS "lotId", wrong.severity
    FROM rack
    JOIN slot ON slot.rack_id = rack.id AND slot.row <= rack.rows AND slot."column" <= rack.columns
    LEFT JOIN lit ON lit.slot_id = slot.id
    LEFT JOIN here ON here.slot_id = slot.id
    LEFT JOIN wrong ON wrong.lot_id = here.lot_id
   WHERE rack.id = ANY($1::uuid[]) ORDER BY slot.rack_id, slot.row, slot."column"`;

/** The slots of racks, with the light and the lot in each; one query. */
export async function roomSlots(pool: pg.Pool, rackIds: readonly string[], now: Date): Promise<RoomSlot[]> {
  return (await pool.query<RoomSlot>(query, [rackIds, now])).rows;
}
