import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';
import type { LogKind } from './kinds.rules.ts';
import type { LogContext } from './log-reader.rules.ts';

const placesQuery = `
  SELECT coalesce((SELECT json_agg(json_build_object('id', system.id, 'name', system.name, 'volumeL', volume_l,
                     'makeUp', coalesce((SELECT json_object_agg(quantity_code, make_up) FROM system_quantity
                                          WHERE system_id = system.id AND make_up IS NOT NULL), '{}'))
                     ORDER BY retired_at NULLS FIRST, position, name) FROM system WHERE site_id = $1::uuid), '[]') AS systems,
         coalesce((SELECT json_agg(json_build_object('id', tank.id, 'name', tank.name, 'systemId', system_id) ORDER BY tank.name)
                     FROM tank JOIN system ON system.id = tank.system_id WHERE site_id = $1::uuid), '[]') AS tanks,
         coalesce((SELECT json_agg(device ORDER BY device.name) FROM (
           SELECT equipment.id, equipment.name, system_id AS "systemId", false AS "isCircuit"
             FROM equipment JOIN system ON system.id = equipment.system_id WHERE site_id = $1::uuid AND removed_at IS NULL
            UNION ALL
           SELECT id, name, NULL, true FROM circuit WHERE site_id = $1::uuid AND removed_at IS NULL) AS device), '[]') AS devices`;

const at = 'extract(epoch FROM entry.at) * 1000';
const ofSite =
  'JOIN system ON system.id = entry.system_id WHERE system.site_id = $1::uuid AND entry.voided_at IS NULL';

/** The entries that are here, as one JSON text: it goes to the worker unread. */
const presentQueries: Readonly<Record<LogKind, string>> = {
  doses: `
    SELECT coalesce(json_agg(json_build_object('systemId', entry.system_id, 'at', ${at}, 'substance', substance, 'amount', entry.amount,
             'unit', entry.unit, 'quantityCode', quantity_code, 'effect', effect, 'doser', doser.name,
             'concerns', CASE WHEN step.id IS NULL THEN concerns ELSE '{step}' END)), '[]')::text AS present
      FROM dose AS entry LEFT JOIN correction_step AS step ON step.dose_id = entry.id
           LEFT JOIN equipment AS doser ON doser.id = entry.doser_id ${ofSite}`,
  water_changes: `
    SELECT coalesce(json_agg(json_build_object('systemId', entry.system_id, 'at', ${at}, 'volumeL', entry.volume_l)), '[]')::text AS present
      FROM water_change AS entry ${ofSite}`,
  feedings: `
    SELECT coalesce(json_agg(json_build_object('systemId', entry.system_id, 'at', ${at}, 'food', food, 'amountG', amount_g,
             'tankId', tank_id)), '[]')::text AS present
      FROM feeding AS entry ${ofSite}`,
  upkeep: `
    SELECT coalesce(json_agg(json_build_object('equipmentId', equipment_id, 'circuitId', circuit_id, 'at', ${at}, 'work', work)), '[]')::text AS present
      FROM upkeep AS entry
     WHERE equipment_id IN (SELECT equipment.id FROM equipment JOIN system ON system.id = equipment.system_id WHERE site_id = $1::uuid)
        OR circuit_id IN (SELECT id FROM circuit WHERE site_id = $1::uuid)`,
};

/** Loads what a file of one kind may name, and what is here already. Two queries. */
export async function loadLogContext(
  reader: SqlReader,
  site: { id: string; timeZone: string },
  { kind, quantities, now }: { kind: LogKind; quantities: Quantity[]; now: Date },
): Promise<LogContext> {
  type Places = Pick<LogContext, 'systems' | 'tanks' | 'devices'>;
  const [places] = (await reader.query<Places>(placesQuery, [site.id])).rows;
  const [here] = (await reader.query<{ present: string }>(presentQueries[kind], [site.id])).rows;
  const found = places ?? { systems: [], tanks: [], devices: [] };
  return { kind, now, timeZone: site.timeZone, ...found, quantities, present: here?.present ?? '[]' };
}
