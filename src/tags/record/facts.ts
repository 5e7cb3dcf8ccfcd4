import type pg from 'pg';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Service } from '../../platform/service.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { type Care, lotCare } from '../../stock/kinds/care.ts';
import { type LotLight, lotLights, NO_LIGHT } from '../../stock/light/lot-light.ts';
import { latestOpinion, type Opinion } from '../../stock/lots/identifications.ts';
import { type FoundLot, findLot } from '../../stock/lots/lots.ts';
import { listQuantities, type Quantity } from '../../water/quantities/quantities.ts';

/** Days of water tests and feedings that a record speaks of. */
export const recordDays = 30;

/** One quantity's standing readings in the water the lot stood in, canonical unit. */
export interface WaterFacts {
  quantityCode: string;
  median: number;
  low: number;
  high: number;
  tests: number;
  belowDetection: number;
  /** The last of them. */
  latest: number;
  /** A later test that surprised and still waits for a repeat; null where there is none. */
  waiting: number | null;
  /** A kit that read it is under suspicion. */
  doubted: boolean;
  /** Local days of the first and the last of the tests. */
  from: string;
  to: string;
}

/** What was dosed where the lot stands, and since when somebody says that nothing is. */
interface DosingFacts {
  substances: { substance: string; times: number }[];
  nothingSince: string | null;
}

/** Where the lot stands now. */
interface PlaceFacts {
  flows: string[] | null;
  jet: boolean;
  litHours: number | null;
  measuredAt: Date | null;
  /** False where a survey did not read one of its slots itself; null without a survey. */
  measuredHere: boolean | null;
}

/** Everything a record is composed from. */
export interface TagFacts {
  lot: FoundLot;
  site: string;
  identification: Opinion | null;
  /** Its own light after that of the lots it was cut from. */
  light: LotLight;
  care: Care;
  place: PlaceFacts | null;
  water: WaterFacts[];
  quantities: Quantity[];
  feedings: { times: number; foods: string[]; pumpsOffMin: number | null };
  /** One for each system it stands in now. */
  dosing: DosingFacts[];
  cut: { at: Date; from: string } | null;
  descent: string[];
  condition: { state: string; at: Date } | null;
  openAlerts: { id: string; title: string }[];
}

// Readings count for the time the lot stood in that system; those that are voided, superseded, refuted or not yet
// confirmed are left out, as is what lay beyond a test's scale.
const waterQuery = `
  WITH stay AS (
    SELECT DISTINCT tank.system_id, placement.from_at, placement.to_at
      FROM placement
      JOIN placement_slot ON placement_slot.placement_id = placement.id
      JOIN slot ON slot.id = placement_slot.slot_id
      JOIN rack ON rack.id = slot.rack_id
      JOIN tank ON tank.id = rack.tank_id
     WHERE placement.lot_id = $1)
  SELECT reading.quantity_code AS "quantityCode",
         percentile_cont(0.5) WITHIN GROUP (ORDER BY reading.value) AS median,
         min(reading.value) AS low, max(reading.value) AS high, count(*)::int AS tests,
         (array_agg(reading.value ORDER BY reading.at DESC, reading.id DESC))[1] AS latest,
         (SELECT surprising.value FROM reading AS surprising
           WHERE surprising.system_id IN (SELECT system_id FROM stay WHERE to_at IS NULL) AND surprising.quantity_code = reading.quantity_code
             AND surprising.trust = 'unconfirmed' AND surprising.voided_at IS NULL AND surprising.slot_id IS NULL
             AND surprising.at > max(reading.at) AND surprising.at <= $3
             AND NOT EXISTS (SELECT 1 FROM reading AS newer WHERE newer.supersedes_id = surprising.id)
           ORDER BY surprising.at DESC LIMIT 1) AS waiting,
         (count(*) FILTER (WHERE reading.below_detection))::int AS "belowDetection",
         to_char(min(reading.at) AT TIME ZONE $4, 'YYYY-MM-DD') AS "from",
         to_char(max(reading.at) AT TIME ZONE $4, 'YYYY-MM-DD') AS "to",
         EXISTS (SELECT 1 FROM open_alert
                  WHERE open_alert.rule = 'kit-biased' AND open_alert.system_id IN (SELECT system_id FROM stay WHERE to_at IS NULL)
                    AND EXISTS (SELECT 1 FROM kit JOIN method ON method.id = kit.method_id
                                 WHERE kit.id = open_alert.subject_id AND method.quantity_code = reading.quantity_code)) AS doubted
    FROM stay CROSS JOIN LATERAL (
           SELECT * FROM reading_with_vote WHERE reading_with_vote.system_id = stay.system_id
           UNION ALL
           SELECT packed.* FROM quantity CROSS JOIN LATERAL unpacked_with_vote(stay.system_id, quantity.code, $2, $3) AS packed) AS reading
   WHERE reading.at >= stay.from_at AND (stay.to_at IS NULL OR reading.at < stay.to_at) AND reading.at > $2 AND reading.at <= $3 AND reading.voided_at IS NULL AND reading.slot_id IS NULL
     AND reading.trust IN ('plain', 'confirmed') AND NOT reading.above_scale
     AND NOT EXISTS (SELECT 1 FROM reading AS newer WHERE newer.supersedes_id = reading.id)
   GROUP BY reading.quantity_code`;

const feedingQuery = `
  SELECT count(*)::int AS times, coalesce(array_agg(DISTINCT food), '{}') AS foods,
         percentile_disc(0.5) WITHIN GROUP (ORDER BY pumps_off_min) AS "pumpsOffMin"
    FROM feeding
   WHERE at > $2 AND at <= $3 AND voided_at IS NULL AND EXISTS (
     SELECT 1 FROM lot_place WHERE lot_id = $1 AND lot_place.system_id = feeding.system_id
        AND (feeding.tank_id IS NULL OR feeding.tank_id = lot_place.tank_id))`;

// A word that nothing is dosed holds until something was.
const dosingQuery = `
  SELECT coalesce((SELECT json_agg(one ORDER BY one.times DESC, one.substance) FROM (
           SELECT substance, count(*)::int AS times FROM dose
            WHERE dose.system_id = system.id AND voided_at IS NULL AND at > $2 AND at <= $3 GROUP BY substance) AS one), '[]') AS substances,
         CASE WHEN undosed_since <= $3 AND NOT EXISTS (
           SELECT 1 FROM dose WHERE dose.system_id = system.id AND voided_at IS NULL AND at > undosed_since AND at <= $3)
           THEN to_char(undosed_since AT TIME ZONE $4, 'YYYY-MM-DD') END AS "nothingSince"
    FROM system WHERE id IN (SELECT system_id FROM lot_place WHERE lot_id = $1)`;

const placeQuery = `
  SELECT array_agg(DISTINCT flow::text) FILTER (WHERE flow IS NOT NULL) AS flows, bool_or(jet) AS jet, max(light.lit_hours) AS "litHours",
         max(light.measured_at) AS "measuredAt", bool_and(light.measured) AS "measuredHere"
    FROM lot_place LEFT JOIN slot_light_now AS light USING (slot_id) WHERE lot_id = $1 HAVING count(*) > 0`;

const descentQuery = `
  WITH RECURSIVE line AS (
    SELECT id, code, parent_id, 0 AS depth FROM lot WHERE id = $1
    UNION ALL
    SELECT lot.id, lot.code, lot.parent_id, line.depth + 1 FROM lot JOIN line ON lot.id = line.parent_id WHERE line.depth < 20)
  SELECT code FROM line WHERE depth > 0 ORDER BY depth`;

const lookQuery = 'SELECT state, at FROM lot_look WHERE lot_id = $1';

const alertQuery = `
  SELECT id, title FROM open_alert WHERE subject_type = 'lot' AND subject_id = $1 ORDER BY severity, opened_at`;

async function rows<T extends pg.QueryResultRow>(
  pool: pg.Pool,
  query: string,
  values: unknown[],
): Promise<T[]> {
  return (await pool.query<T>(query, values)).rows;
}

function historyOf(db: Service['db'], lotId: string) {
  return Promise.all([
    latestOpinion(db, lotId),
    db.cut.findUnique({ where: { intoLotId: lotId }, include: { from: { select: { code: true } } } }),
  ]);
}

/** Loads what a record of this lot's pieces would say now. @throws Refusal 404 */
export async function loadTagFacts(service: Service, idOrCode: string, now: Date): Promise<TagFacts> {
  const { db, pool } = service;
  const lot = await findLot(db, idOrCode);
  const since = daysBefore(now, recordDays);
  const window = [lot.id, since, now];
  const care = await lotCare(pool, { lotIds: [lot.id] });
  const [site, [identification, cut], lights, quantities] = await Promise.all([
    db.site.findUniqueOrThrow({ where: { id: lot.siteId } }),
    historyOf(db, lot.id),
    lotLights(pool, [lot.id], care, now),
    listQuantities(db),
  ]);
  const local = [...window, site.timeZone];
  const [place, water, feedings, dosing, descent, openAlerts, looks] = await Promise.all([
    rows<PlaceFacts>(pool, placeQuery, [lot.id]),
    rows<WaterFacts>(pool, waterQuery, local),
    rows<TagFacts['feedings']>(pool, feedingQuery, window),
    rows<DosingFacts>(pool, dosingQuery, local),
    rows<{ code: string }>(pool, descentQuery, [lot.id]),
    rows<{ id: string; title: string }>(pool, alertQuery, [lot.id]),
    rows<{ state: string; at: Date }>(pool, lookQuery, [lot.id]),
  ]);
  return {
    lot,
    site: site.name,
    identification,
    light: lights.get(lot.id) ?? NO_LIGHT,
    care: care.get(lot.id) ?? {},
    place: place[0] ?? null,
    water,
    quantities,
    feedings: feedings[0] ?? { times: 0, foods: [], pumpsOffMin: null },
    dosing,
    cut: cut === null ? null : { at: cut.at, from: cut.from.code },
    descent: descent.map((row) => row.code),
    condition: looks[0] ?? null,
    openAlerts,
  };
}

/** The most urgent alert that is open on each of some lots, by its title; those without one are left out. One query. */
export async function openAlertsOf(
  reader: SqlReader,
  lotIds: readonly string[],
): Promise<ReadonlyMap<string, string>> {
  const { rows: found } = await reader.query<{ id: string; title: string }>(
    `SELECT DISTINCT ON (subject_id) subject_id AS id, title FROM open_alert
      WHERE subject_type = 'lot' AND subject_id = ANY($1::uuid[]) ORDER BY subject_id, severity, opened_at`,
    [[...lotIds]],
  );
  return new Map(found.map(({ id, title }) => [id, title]));
}
