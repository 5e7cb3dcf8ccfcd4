import type { Service } from '../../platform/service.ts';
import { readingsOfDue, waits } from './whole-days.ts';

/**
 * After so many days a probe's ended day is packed: nothing that is asked each minute looks further back at single values
 * (signals of probes ten days, an emergency fourteen); what does now and then unpacks them. Own choice.
 */
export const packedAfterDays = 15;
/** Days of one instrument that are packed by one statement: some 7,000 values of probes that report each minute (own choice). */
const daysAtOnce = 5;
/** So many pieces of a system in one night: the years that a farm had before are packed over some nights (own choice). */
const mostPieces = 400;
/** A day of fewer values takes no less room as lists (own choice). */
const leastValues = 8;
/** Packs that are made rows again by one statement (own choice). */
const packsAtOnce = 10;

// Who packs holds the system alone: see `follow_readings` in the database.
const hold = `SELECT pg_advisory_xact_lock(hashtextextended('readings of ' || $1::uuid, 0))::text`;

// Ended days that are rolled up as they are, and of which nobody has asked yet. The middle value stays a row, so that rules
// read the same by the same queries. An instrument's first and newest days stay rows, so that its first and its newest
// value do.
const piece = `
  WITH due AS (
    SELECT rollup.system_id, rollup.quantity_code, rollup.at, rollup.method_id, rollup.kit_id, rollup.instrument, site.time_zone, day.until
      FROM system JOIN site ON site.id = system.site_id
      JOIN reading_rollup AS rollup ON rollup.system_id = system.id AND rollup.grain = 'day' AND rollup.packed IS NULL AND (rollup.gone > 0) IS NOT TRUE
       AND rollup.at <= date_trunc('day', $2::timestamptz - interval '${packedAfterDays} days', site.time_zone) - interval '23 hours'
     CROSS JOIN LATERAL (SELECT date_trunc('day', rollup.at + interval '36 hours', site.time_zone) AS until) AS day
     WHERE system.id = $1::uuid AND NOT ${waits}
       AND NOT EXISTS (SELECT FROM reading_pack AS pack
                        WHERE pack.system_id = rollup.system_id AND pack.quantity_code = rollup.quantity_code AND pack.method_id = rollup.method_id
                          AND pack.kit_id IS NOT DISTINCT FROM rollup.kit_id AND pack.until_at > rollup.at AND pack.from_at < day.until
                          AND pack.until_at <= day.until + interval '26 hours')
       AND EXISTS (SELECT FROM reading_rollup AS before
                    WHERE before.system_id = rollup.system_id AND before.quantity_code = rollup.quantity_code AND before.grain = 'day' AND before.at < rollup.at
                      AND before.method_id = rollup.method_id AND before.instrument = rollup.instrument)
       AND EXISTS (SELECT FROM reading_rollup AS newer
                    WHERE newer.system_id = rollup.system_id AND newer.quantity_code = rollup.quantity_code AND newer.grain = 'day' AND newer.at > rollup.at
                      AND newer.method_id = rollup.method_id AND newer.instrument = rollup.instrument AND newer.standing > 0)
     ORDER BY rollup.quantity_code, rollup.at LIMIT ${daysAtOnce}
  ), ${readingsOfDue}, taken AS (
    DELETE FROM reading USING one WHERE reading.id = one.id AND one.as_sent AND NOT one.is_middle AND one.of_day >= ${leastValues}
    RETURNING one.*
  ), packed AS (
    INSERT INTO reading_pack (system_id, quantity_code, method_id, kit_id, access_key_id, from_at, until_at, entered_unit, factor, trust_reason,
                              readings, least_id, greatest_id, ids, times, "values", uncertainties, lags, texts)
    SELECT system_id, quantity_code, method_id, kit_id, access_key_id, day, until, entered_unit, factor, trust_reason,
           count(*), min(id::text)::uuid, max(id::text)::uuid, array_agg(id ORDER BY at, id),
           array_agg((extract(epoch FROM at - day) * 1000)::int ORDER BY at, id), array_agg(value ORDER BY at, id), array_agg(uncertainty ORDER BY at, id),
           array_agg((extract(epoch FROM created_at - at) * 1000)::bigint ORDER BY at, id),
           CASE WHEN bool_and(entered_text = value::text) THEN '{}' ELSE array_agg(entered_text ORDER BY at, id) END
      FROM taken GROUP BY system_id, quantity_code, method_id, kit_id, access_key_id, day, until, entered_unit, factor, trust_reason
    RETURNING system_id, quantity_code, from_at, method_id, coalesce(kit_id, method_id) AS instrument, readings
  ), told AS (
    UPDATE reading_rollup AS rollup
       SET packed = coalesce((SELECT sum(packed.readings) FROM packed
                               WHERE packed.quantity_code = due.quantity_code AND packed.from_at = due.at AND packed.method_id = due.method_id AND packed.instrument = due.instrument), 0)
      FROM due
     WHERE rollup.system_id = due.system_id AND rollup.quantity_code = due.quantity_code AND rollup.grain = 'day' AND rollup.at = due.at
       AND rollup.method_id = due.method_id AND rollup.instrument = due.instrument
    RETURNING rollup.packed)
  SELECT count(*)::int AS days, coalesce(sum(packed), 0)::int AS packed FROM told`;

interface Piece {
  /** Days of instruments that were asked about; 0: none is left. */
  days: number;
  /** Values that were packed. */
  packed: number;
}

// Where the site's days begin at another time than they did, or what reported by itself is read by people now.
const misplaced = `
  SELECT pack.nth::text FROM reading_pack AS pack
    JOIN system ON system.id = pack.system_id JOIN site ON site.id = system.site_id JOIN method ON method.id = pack.method_id
   WHERE pack.from_at <> date_trunc('day', pack.from_at, site.time_zone) OR pack.until_at <> date_trunc('day', pack.from_at + interval '36 hours', site.time_zone)
      OR method.every_minutes IS NULL OR method.laboratory <> ''
   ORDER BY pack.nth LIMIT ${mostPieces * packsAtOnce}`;

/**
 * Packs the ended days of probes, some days at a time, each time a transaction of its own. What was packed by days that
 * the site has no more is made rows again first; it is packed anew once it is rolled up.
 * @returns how many values were packed
 */
export async function packDays(service: Pick<Service, 'db' | 'pool' | 'now'>): Promise<number> {
  const { db, pool, now } = service;
  const { rows } = await pool.query<{ nth: string }>(misplaced);
  for (let i = 0; i < rows.length; i += packsAtOnce)
    await pool.query('SELECT bring_back($1::bigint[])', [
      rows.slice(i, i + packsAtOnce).map(({ nth }) => nth),
    ]);
  let all = 0;
  for (const { id } of await db.system.findMany({ select: { id: true } }))
    all += await packSystem(db, id, now());
  return all;
}

async function packSystem(db: Service['db'], systemId: string, now: Date): Promise<number> {
  let all = 0;
  for (let i = 0; i < mostPieces; i++) {
    const [, , [told]] = await db.$transaction([
      db.$queryRaw`SELECT set_config('evenwater.letting_go', 'on', true)`,
      db.$queryRawUnsafe(hold, systemId),
      db.$queryRawUnsafe<Piece[]>(piece, systemId, now),
    ]);
    if (told === undefined || told.days === 0) break;
    all += told.packed;
  }
  return all;
}
