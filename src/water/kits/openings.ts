import pg from 'pg';
import { KeptByMarks } from '../../platform/database/kept-by-marks.ts';
import type { Mark } from '../../platform/database/marks.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { memoize } from '../../platform/memoize.ts';
import { dayMs } from '../../science/numeric/time.ts';
import type { KitRecord, KitWaterReading } from './bias.rules.ts';

/** Days of readings before and after a kit's first use that show whether the level stepped with it; own choice. */
const daysBefore = 120;
const daysAfter = 29;
/** A kit is judged in at most so many systems, those in which it was used first, so that the query stays small; own choice. */
const mostSystems = 4;

// A kit's first use in each water is one step down an index, however many readings there are of it. Each water comes as one
// row of lists, all in one order: a row for each reading took longer to take in than to find. One beyond the scale is a bound
// and shows no step.
const waterQuery = `
  WITH used AS (
    SELECT asked.id AS kit_id, system.id AS system_id, first.at AS first_at, row_number() OVER (PARTITION BY asked.id ORDER BY first.at, system.id) AS place
      FROM unnest($1::text[]::uuid[]) AS asked(id) CROSS JOIN (SELECT id FROM system OFFSET 0) AS system
      JOIN LATERAL (SELECT at FROM reading WHERE kit_id = asked.id AND system_id = system.id AND voided_at IS NULL AND trust <> 'refuted'
                     ORDER BY at LIMIT 1) AS first ON true)
  SELECT used.kit_id AS "ofKit", used.system_id AS "systemId", method.quantity_code AS code, extract(epoch FROM used.first_at)::float8 / 86400 AS "firstDay",
         lists.days, lists.values, lists.us, lists.belows, lists.trusts, lists."kitIds"
    FROM used
    JOIN kit ON kit.id = used.kit_id JOIN method ON method.id = kit.method_id
    JOIN LATERAL (
      SELECT string_agg((extract(epoch FROM near.at)::float8 / 86400)::text, ',' ORDER BY near.at, near.id) AS days, string_agg(near.value::text, ',' ORDER BY near.at, near.id) AS values,
             string_agg(near.uncertainty::text, ',' ORDER BY near.at, near.id) AS us, string_agg(near.below_detection::text, ',' ORDER BY near.at, near.id) AS belows,
             string_agg(near.trust::text, ',' ORDER BY near.at, near.id) AS trusts, string_agg(coalesce(near.kit_id::text, ''), ',' ORDER BY near.at, near.id) AS "kitIds"
        FROM (SELECT reading.* FROM reading_with_vote AS reading LEFT JOIN method AS by ON by.id = reading.method_id
               WHERE reading.system_id = used.system_id AND reading.quantity_code = method.quantity_code AND reading.voided_at IS NULL
                 AND reading.trust <> 'refuted' AND NOT reading.above_scale AND (by.id IS NULL OR (by.every_minutes IS NULL AND by.laboratory = ''))
                 AND reading.at > used.first_at - interval '${daysBefore} days' AND reading.at < used.first_at + interval '${daysAfter} days'
               ORDER BY reading.at, reading.id LIMIT 400) AS near) AS lists ON lists.days IS NOT NULL
   WHERE used.place <= ${mostSystems}
   ORDER BY used.kit_id, used.place`;

interface WaterRow {
  ofKit: string;
  systemId: string;
  code: string;
  firstDay: number;
  days: string;
  values: string;
  us: string;
  belows: string;
  trusts: string;
  kitIds: string;
}

/** The waters that are kept as they were last read: those of a farm of forty systems; each takes some 30 kB (own choice). */
const mostKept = 500;
const kept = new Map<string, { lists: string; readings: readonly KitWaterReading[] }>();

/** The readings of one water: the same object for as long as they are the same, so that what is made of them stays. */
function readingsOf({ ofKit, systemId, ...row }: WaterRow): readonly KitWaterReading[] {
  const key = `${ofKit} ${systemId}`;
  const lists = [row.days, row.values, row.us, row.belows, row.trusts, row.kitIds].join(';');
  const found = kept.get(key);
  kept.delete(key);
  const now = found?.lists === lists ? found : { lists, readings: taken(row) };
  kept.set(key, now);
  if (kept.size > mostKept) kept.delete(kept.keys().next().value ?? '');
  return now.readings;
}

function taken(row: Omit<WaterRow, 'ofKit' | 'systemId'>): readonly KitWaterReading[] {
  const [values, us, belows] = [row.values, row.us, row.belows].map((list) => list.split(','));
  const [trusts, kitIds] = [row.trusts, row.kitIds].map((list) => list.split(','));
  return row.days.split(',').map((day, i) => ({
    day: Number(day),
    value: Number(values?.[i]),
    u: Number(us?.[i]),
    below: belows?.[i] === 'true',
    trust: trusts?.[i] ?? '',
    kitId: kitIds?.[i] || null,
  }));
}

/** The readings about the first use of a kit, and what says whether they still are those. */
interface Opening {
  /** Of which quantity; null where it was used in no system. */
  code: string | null;
  systemIds: readonly string[];
  systems: KitRecord['systems'];
}

const unused: Opening = { code: null, systemIds: [], systems: [] };

async function readOpenings(reader: SqlReader, kitIds: readonly string[]): Promise<Map<string, Opening>> {
  const { rows } = await reader.query<WaterRow>(waterQuery, [[...kitIds]]);
  const byKit = Map.groupBy(rows, (row) => row.ofKit);
  return new Map(
    kitIds.map((kitId) => {
      const own = byKit.get(kitId);
      if (own === undefined) return [kitId, unused];
      return [
        kitId,
        {
          code: own[0]?.code ?? null,
          systemIds: own.map((row) => row.systemId),
          systems: own.map((row) => ({ firstDay: row.firstDay, readings: readingsOf(row) })),
        },
      ];
    }),
  );
}

/** A reading changes it about a first use, or where it may be a first use itself. */
function isStale(_kitId: string, opening: Opening, { part, systemId, code, fromMs }: Mark): boolean {
  if (part === 'all' || part === 'kit') return true;
  if (part !== 'reading') return false;
  if (opening.code !== null && code !== null && code !== opening.code) return false;
  if (systemId === null || fromMs === null || opening.code === null) return true;
  const at = opening.systemIds.indexOf(systemId);
  const used = at < 0 ? opening.systems.at(-1) : opening.systems[at];
  const reach = at < 0 ? (opening.systems.length < mostSystems ? Number.POSITIVE_INFINITY : 1) : daysAfter;
  return fromMs / dayMs <= (used?.firstDay ?? Number.POSITIVE_INFINITY) + reach;
}

/** Kits of which the readings are kept, each with four waters at most (own choice: as many as the waters above). */
const keptOf = memoize(
  (pool: pg.Pool) => new KeptByMarks<Opening>(pool, { isStale, most: mostKept / mostSystems }),
);

/**
 * The readings about the first use of each kit, in the systems in which it was used first: the one record by which pages and
 * the watch judge whether the level stepped with it. One query, however many kits, and one for what changed since.
 */
export async function loadKitOpenings(
  reader: SqlReader,
  kitIds: readonly string[],
): Promise<Map<string, KitRecord['systems']>> {
  if (kitIds.length === 0) return new Map();
  const read = (ids: readonly string[]) => readOpenings(reader, ids);
  // A transaction sees what it changed itself, of which no mark tells others yet.
  const openings = reader instanceof pg.Pool ? await keptOf(reader).of(kitIds, read) : await read(kitIds);
  return new Map([...openings].map(([kitId, { systems }]) => [kitId, systems]));
}
