import { median } from 'd3-array';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { whenWords } from '../../platform/words/times.ts';
import { daysBefore, hourMs } from '../../science/numeric/time.ts';
import { poisonousLots } from '../../stock/kinds/poisonous-lots.ts';
import { withBiasCorrection } from '../../water/kits/bias.ts';
import { boundMark } from '../../water/quantities/quantities.ts';
import { dayTemperatures } from '../../water/record/temperatures.ts';
import type { KnownReading, SystemNumbers } from './system-numbers.rules.ts';

interface ReadLine {
  code: keyof SystemNumbers['readings'];
  at: string;
  value: number;
  uncertainty: number;
  below: boolean;
  above: boolean;
  kitId: string | null;
  unconfirmed: boolean;
  before: { at: string; value: number; uncertainty: number } | null;
}

interface Line {
  id: string;
  name: string;
  volumeL: number;
  tanks: { name: string; lengthM: number; widthM: number; heightM: number }[];
  readings: ReadLine[];
  circuits: { name: string; devices: string[] }[];
  stock: { pieces: number; sized: number; discM2: number };
}

// Readings of two weeks count; older ones say nothing of a water that is in trouble. Own choice.
const query = `
  SELECT system.id, system.name, system.volume_l AS "volumeL",
         coalesce((SELECT json_agg(json_build_object('name', name, 'lengthM', length_mm / 1000.0, 'widthM', width_mm / 1000.0,
                   'heightM', height_mm / 1000.0) ORDER BY position, name) FROM tank WHERE system_id = system.id), '[]') AS tanks,
         coalesce((SELECT json_agg(json_build_object('code', newest.quantity_code, 'at', newest.at, 'value', newest.value,
                   'uncertainty', newest.uncertainty, 'below', newest.below_detection, 'above', newest.above_scale, 'kitId', newest.kit_id,
                   'unconfirmed', newest.trust = 'unconfirmed',
                   'before', (SELECT json_build_object('at', earlier.at, 'value', earlier.value, 'uncertainty', earlier.uncertainty)
                                FROM reading_with_vote AS earlier
                               WHERE earlier.system_id = system.id AND earlier.quantity_code = newest.quantity_code AND earlier.slot_id IS NULL
                                 AND earlier.voided_at IS NULL AND earlier.trust <> 'refuted' AND NOT earlier.below_detection AND NOT earlier.above_scale
                                 AND earlier.method_id IS NOT DISTINCT FROM newest.method_id AND earlier.kit_id IS NOT DISTINCT FROM newest.kit_id
                                 AND earlier.at > $2::timestamptz - interval '14 days'
                                 AND earlier.at <= newest.at - CASE newest.quantity_code WHEN 'alkalinity' THEN interval '2 hours' ELSE interval '15 minutes' END
                               ORDER BY earlier.at DESC, earlier.id DESC LIMIT 1)))
            FROM (SELECT DISTINCT ON (quantity_code) * FROM reading_with_vote
                   WHERE system_id = system.id AND slot_id IS NULL AND voided_at IS NULL AND trust <> 'refuted'
                     AND quantity_code IN ('temperature', 'ph', 'salinity', 'alkalinity', 'oxygen')
                     AND at > $2::timestamptz - interval '14 days' AND at <= $2
                   ORDER BY quantity_code, at DESC, id DESC) AS newest), '[]') AS readings,
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

/** What is known of a site's systems: all in service, or those named. Six queries. */
export async function systemNumbers(
  reader: SqlReader,
  site: { id: string; timeZone: string },
  now: Date,
  only: readonly string[] | null = null,
): Promise<SystemNumbers[]> {
  const { rows } = await reader.query<Line>(query, [site.id, now, only ?? [], only === null]);
  const lines = rows.flatMap(({ id, readings }) => readings.map((one) => ({ ...one, systemId: id })));
  const read = Map.groupBy(await withBiasCorrection(reader, lines), ({ systemId }) => systemId);
  const days = await dayTemperatures(
    reader,
    rows.map(({ id }) => id),
    now,
  );
  const poisonous = await poisonousLots(reader, site.id);
  const unplaced = poisonous.filter(({ systemId }) => systemId === null).length;
  return rows.map(({ readings, ...system }) => ({
    ...system,
    usualTemperature: usualOf(days.get(system.id) ?? [], now),
    poisonous: { lots: poisonous.filter(({ systemId }) => systemId === system.id), unplaced },
    readings: Object.fromEntries(
      (read.get(system.id) ?? []).map((one) => [one.code, knownReading(one, site.timeZone, now)]),
    ),
  }));
}

/** What is usual is told from so many days before the last one and a half, in which the trouble began; from three at least. Own choice. */
const usualDays = { from: 16, until: 1.5, fewest: 3 };

/** The middle of the days' means. */
function usualOf(days: readonly { at: Date; degC: number }[], now: Date): number | null {
  const [from, until] = [daysBefore(now, usualDays.from), daysBefore(now, usualDays.until)];
  const means = days.filter(({ at }) => at >= from && at <= until).map(({ degC }) => degC);
  return means.length < usualDays.fewest ? null : (median(means) ?? null);
}

/** As the steps say it: the value without the bias of a kit known to read wrong, as on every page. */
function knownReading(
  {
    value,
    corrected,
    at,
    uncertainty,
    before,
    unconfirmed,
    ...bound
  }: ReadLine & { corrected: { value: number } | null },
  timeZone: string,
  now: Date,
): KnownReading {
  const shown = corrected?.value ?? value;
  const moved =
    before === null || bound.below || bound.above
      ? null
      : {
          change: (shown / value) * (value - before.value),
          u: Math.hypot(uncertainty, before.uncertainty),
          hours: (Date.parse(at) - Date.parse(before.at)) / hourMs,
        };
  const when = whenWords(at, timeZone, now);
  return {
    value: shown,
    mark: boundMark(bound),
    at: new Date(at),
    when: unconfirmed ? `${when}, not repeated yet` : when,
    before: moved,
  };
}
