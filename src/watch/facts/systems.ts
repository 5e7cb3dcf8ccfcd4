import type pg from 'pg';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import type { QuantityFact } from './types.ts';

export interface SystemRow {
  systemId: string;
  siteId: string;
  name: string;
  timeZone: string;
  volumeL: number;
  retired: boolean;
  neverChanged: boolean;
}

// A retired system stays until its alerts are closed.
const systemQuery = `
  SELECT system.id AS "systemId", site.id AS "siteId", system.name, site.time_zone AS "timeZone",
         system.volume_l AS "volumeL", system.retired_at IS NOT NULL AS retired,
         system.unchanged_since IS NOT NULL AS "neverChanged"
    FROM system JOIN site ON site.id = system.site_id
   WHERE ($1::uuid[] IS NULL OR system.id = ANY($1))
     AND (system.retired_at IS NULL OR EXISTS (SELECT 1 FROM open_alert WHERE system_id = system.id))
   ORDER BY system.id`;

/** The systems asked for (null: all) that are kept, or still have alerts open. */
export async function loadSystems(pool: pg.Pool, systemIds: readonly string[] | null): Promise<SystemRow[]> {
  return (await pool.query<SystemRow>(systemQuery, [systemIds])).rows;
}

/** Every system by its id, whether it is kept or not. */
export async function loadNames(pool: pg.Pool): Promise<Map<string, { name: string; retired: boolean }>> {
  const { rows } = await pool.query<{ id: string; name: string; retired: boolean }>(nameQuery);
  return new Map(rows.map(({ id, ...row }) => [id, row]));
}

const nameQuery = `SELECT id, name, retired_at IS NOT NULL AS retired FROM system`;

const quantityQuery = `
  SELECT code, name, canonical_unit AS "canonicalUnit", display_unit AS "displayUnit", decimals,
         plausible_low AS "plausibleLow", plausible_high AS "plausibleHigh" FROM quantity`;

/** How each quantity is written, by code. */
export async function loadQuantities(pool: pg.Pool): Promise<Map<string, QuantityFact>> {
  const { rows } = await pool.query<QuantityFact>(quantityQuery);
  return new Map(rows.map((row) => [row.code, row]));
}

const tankQuery = `SELECT id, system_id AS "systemId", name FROM tank WHERE system_id = ANY($1) ORDER BY position, name, id`;

/** The tanks of each system. */
export async function loadTanks(
  pool: pg.Pool,
  systemIds: readonly string[],
): Promise<Map<string, { id: string; name: string }[]>> {
  const { rows } = await pool.query<{ id: string; systemId: string; name: string }>(tankQuery, [systemIds]);
  return groupBySystem(rows, (tank) => tank);
}
