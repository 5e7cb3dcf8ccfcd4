import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** A body of water: a system, or a tank of it whose water is its own. */
export interface Water {
  systemId: string;
  tankId: string | null;
}

/** The water a lot lives in, and the tank in which it stands or stood last. */
export interface LotWater extends Water {
  vesselId: string;
  stands: boolean;
}

/** The same water. */
export const sameWater = (a: Water, b: Water): boolean => a.systemId === b.systemId && a.tankId === b.tankId;

/** The water of each of these lots; those that never stood anywhere are left out. One query. */
export async function watersOfLots(
  reader: SqlReader,
  lotIds: readonly string[],
): Promise<ReadonlyMap<string, LotWater>> {
  const { rows } = await reader.query<LotWater & { lotId: string }>(
    `SELECT lot_id AS "lotId", system_id AS "systemId", water_tank_id AS "tankId", tank_id AS "vesselId", stands
       FROM lot_water WHERE lot_id = ANY($1::uuid[])`,
    [[...lotIds]],
  );
  return new Map(rows.map(({ lotId, ...water }) => [lotId, water]));
}

/** The water and the tank of a slot, and whether lots wait in quarantine there. */
export interface SlotWater extends Water {
  vesselId: string;
  quarantine: boolean;
}

/** The water and the tank of each of these slots. One query. */
export async function watersOfSlots(
  reader: SqlReader,
  slotIds: readonly string[],
): Promise<ReadonlyMap<string, SlotWater>> {
  const { rows } = await reader.query<SlotWater & { slotId: string }>(
    `SELECT slot.id AS "slotId", tank.system_id AS "systemId", CASE WHEN tank.own_water <> '' THEN tank.id END AS "tankId", tank.id AS "vesselId", tank.quarantine
       FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id WHERE slot.id = ANY($1::uuid[])`,
    [[...slotIds]],
  );
  return new Map(rows.map(({ slotId, ...water }) => [slotId, water]));
}

/** The waters of a site with their names, as a choice: systems, and tanks whose water is their own. One query. */
export async function watersOfSite(
  reader: SqlReader,
  siteId: string,
): Promise<(Water & { value: string; name: string })[]> {
  const { rows } = await reader.query<Water & { name: string }>(
    `SELECT id AS "systemId", NULL::uuid AS "tankId", name FROM system WHERE site_id = $1::uuid AND retired_at IS NULL
      UNION ALL
     SELECT system.id, tank.id, system.name || ', ' || tank.name FROM tank JOIN system ON system.id = tank.system_id
      WHERE site_id = $1::uuid AND retired_at IS NULL AND tank.own_water <> '' ORDER BY name`,
    [siteId],
  );
  return rows.map((row) => ({
    ...row,
    value: row.tankId === null ? row.systemId : `${row.systemId} ${row.tankId}`,
  }));
}
