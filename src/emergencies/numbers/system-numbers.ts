import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { whenWords } from '../../platform/words/times.ts';
import { hourMs } from '../../science/numeric/time.ts';
import type { KnownReading, SystemNumbers } from './system-numbers.rules.ts';

interface Line {
  id: string;
  name: string;
  volumeL: number;
  tanks: { name: string; lengthM: number; widthM: number; heightM: number }[];
  readings: {
    code: keyof SystemNumbers['readings'];
    at: string;
    value: number;
    last: string | null;
    before: number | null;
  }[];
  circuits: { name: string; devices: string[] }[];
  stock: { pieces: number; sized: number; discM2: number };
}

// Readings of two weeks count; older ones say nothing of a water that is in trouble. Own choice.
const query = `
  SELECT system.id, system.name, system.volume_l AS "volumeL",
         coalesce((SELECT json_agg(json_build_object('name', name, 'lengthM', length_mm / 1000.0, 'widthM', width_mm / 1000.0,
                   'heightM', height_mm / 1000.0) ORDER BY position, name) FROM tank WHERE system_id = system.id), '[]') AS tanks,
         coalesce((SELECT json_agg(told) FROM (
            SELECT DISTINCT ON (quantity_code) quantity_code AS code, at, value,
                   lead(at) OVER newest AS last, lead(value) OVER newest AS before
              FROM reading_with_vote
             WHERE system_id = system.id AND slot_id IS NULL AND voided_at IS NULL AND trust <> 'refuted'
               AND quantity_code IN ('temperature', 'ph', 'salinity', 'alkalinity', 'oxygen')
               AND at > $2::timestamptz - interval '14 days' AND at <= $2
            WINDOW newest AS (PARTITION BY quantity_code ORDER BY at DESC, id DESC)
             ORDER BY quantity_code, at DESC, id DESC) AS told), '[]') AS readings,
         coalesce((SELECT json_agg(hung ORDER BY hung.name) FROM (
            SELECT circuit.name, json_agg(equipment.name ORDER BY equipment.kind, equipment.name) AS devices
              FROM equipment JOIN circuit ON circuit.id = equipment.circuit_id
             WHERE equipment.system_id = system.id AND equipment.removed_at IS NULL GROUP BY circuit.id) AS hung), '[]') AS circuits,
         (SELECT json_build_object('pieces', coalesce(sum(lot.pieces), 0), 'sized', coalesce(sum(lot.pieces) FILTER (WHERE size_mm IS NOT NULL), 0),
                 'discM2', coalesce(sum(lot.pieces * pi() * (size_mm / 2000.0) ^ 2), 0))
            FROM lot WHERE pieces > 0 AND id IN (SELECT lot_id FROM lot_place WHERE system_id = system.id)) AS stock
    FROM system
   WHERE system.site_id = $1::text::uuid AND (system.retired_at IS NULL OR system.id = ANY($3::text[]::uuid[]))
     AND ($4::boolean OR system.id = ANY($3::text[]::uuid[]))
   ORDER BY system.position, system.name`;

/** What is known of a site's systems: all in service, or those named. One query. */
export async function systemNumbers(
  reader: SqlReader,
  site: { id: string; timeZone: string },
  now: Date,
  only: readonly string[] | null = null,
): Promise<SystemNumbers[]> {
  const { rows } = await reader.query<Line>(query, [site.id, now, only ?? [], only === null]);
  return rows.map(({ readings, ...system }) => ({
    ...system,
    readings: Object.fromEntries(
      readings.map(({ code, at, value, last, before }): [string, KnownReading] => {
        const hours = last === null ? 0 : (Date.parse(at) - Date.parse(last)) / hourMs;
        const moved = before === null || last === null ? null : { change: value - before, hours };
        return [code, { value, at: new Date(at), when: whenWords(at, site.timeZone, now), before: moved }];
      }),
    ),
  }));
}
