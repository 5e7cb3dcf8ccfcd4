import type pg from 'pg';
import { slotLightAt } from '../../farm/light/slot-light.ts';
import { WITHIN_RACK } from '../../farm/racks/slots.rules.ts';
import type { Flow } from '../../generated/prisma/enums.ts';
import { standingIn } from './standing.ts';

const systemsQuery =
  'SELECT id FROM system WHERE site_id = $1 AND retired_at IS NULL ORDER BY position, name, id';

/** Every rack of the site with how many slots are free. Two small queries while nobody moves anything. */
export async function listRacks(
  pool: pg.Pool,
  siteId: string,
): Promise<{ id: string; name: string; free: number }[]> {
  const { rows } = await pool.query<{ id: string }>(systemsQuery, [siteId]);
  const standing = await standingIn(
    pool,
    rows.map(({ id }) => id),
  );
  return [...standing.values()].flat().map(({ id, systemName, tankName, name, cells }) => ({
    id,
    name: `${systemName} · ${tankName} · ${name}`,
    free: cells.filter(({ lotId }) => lotId === null).length,
  }));
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
