import type pg from 'pg';
import { slotLightAt } from '../../farm/light/slot-light.ts';
import { WITHIN_RACK } from '../../farm/racks/slots.rules.ts';
import type { Flow } from '../../generated/prisma/enums.ts';

const racks = `
  SELECT rack.id, system.name || ' · ' || tank.name || ' · ' || rack.name AS name, coalesce(open.free, 0)::int AS free
    FROM rack
    JOIN tank ON tank.id = rack.tank_id
    JOIN system ON system.id = tank.system_id
    LEFT JOIN (SELECT slot.rack_id, count(*) - count(held.slot_id) AS free
                 FROM slot JOIN rack ON rack.id = slot.rack_id AND ${WITHIN_RACK}
                 LEFT JOIN (SELECT DISTINCT taken.slot_id FROM placement_slot AS taken JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
                                       WHERE taken.to_at IS NULL) AS held ON held.slot_id = slot.id
                GROUP BY slot.rack_id) AS open ON open.rack_id = rack.id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`;

/** Every rack of the site with how many slots are free. */
export async function listRacks(
  pool: pg.Pool,
  siteId: string,
): Promise<{ id: string; name: string; free: number }[]> {
  return (await pool.query<{ id: string; name: string; free: number }>(racks, [siteId])).rows;
}

/**
 * SQL: nobody stands in a `slot`. By the index of what is taken now: of the view of all places the whole farm's would be
 * read for one rack.
 */
const isFreeSlot =
  'NOT EXISTS (SELECT 1 FROM placement_slot AS held WHERE held.slot_id = slot.id AND held.to_at IS NULL)';

const slots = `
  SELECT slot.id, chr(64 + slot.row) || slot."column" AS name, slot.flow::text AS flow, slot.jet,
         place.lot_id IS NOT NULL AS "isOwn"
    FROM slot JOIN rack ON rack.id = slot.rack_id AND ${WITHIN_RACK}
    LEFT JOIN lot_place AS place ON place.slot_id = slot.id
   WHERE slot.rack_id = $1 AND (place.lot_id IS NULL OR place.lot_id = $2)
   ORDER BY slot.row, slot."column"`;

export interface FreeSlot {
  id: string;
  name: string;
  /** umol/(m2 s); null where it was never surveyed. */
  par: number | null;
  flow: Flow | null;
  jet: boolean;
  /** The lot itself stands there. */
  isOwn: boolean;
}

/** The slots of a rack that a lot can be moved to: free ones and its own. Five queries. */
export async function freeSlots(
  pool: pg.Pool,
  rackId: string,
  lotId: string,
  now: Date,
): Promise<FreeSlot[]> {
  const { rows } = await pool.query<Omit<FreeSlot, 'par'>>(slots, [rackId, lotId]);
  const light = await slotLightAt(
    pool,
    rows.map(({ id }) => id),
    now,
  );
  return rows.map((slot) => {
    const known = light.get(slot.id);
    return { ...slot, par: known === undefined ? null : Math.round(known.par) };
  });
}

const firstQuery = `
  SELECT DISTINCT ON (slot.rack_id) slot.rack_id AS "rackId", slot.id, chr(64 + slot.row) || slot."column" AS name
    FROM slot JOIN rack ON rack.id = slot.rack_id
   WHERE slot.rack_id = ANY($1::uuid[]) AND ${WITHIN_RACK}
     AND ${isFreeSlot}
   ORDER BY slot.rack_id, slot.row, slot."column"`;

/** The first free slot of each of these racks, by rack. One query. */
export async function firstFreeSlots(
  pool: pg.Pool,
  rackIds: readonly string[],
): Promise<Map<string, { id: string; name: string }>> {
  const { rows } = await pool.query<{ rackId: string; id: string; name: string }>(firstQuery, [rackIds]);
  return new Map(rows.map(({ rackId, ...slot }) => [rackId, slot]));
}
