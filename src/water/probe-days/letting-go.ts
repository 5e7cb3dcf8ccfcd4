import { change } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import { readingsOfDue, waits } from './whole-days.ts';

/** Days of one instrument that are asked about by one statement: some 7,000 values of probes that report each minute (own choice). */
const daysAtOnce = 5;
/** So many pieces of a site in one night: the years that a farm had before are let go over some nights (own choice). */
const mostPieces = 1000;

// Days that ended so long ago, are rolled up as they are, and of which nobody has asked yet. All of a day's values of an
// instrument go but the middle one, packed ones too; or none, where somebody or something says more of one of them than
// the instrument sent.
const piece = `
  WITH place AS (
    SELECT id, time_zone, date_trunc('day', $2::timestamptz - probe_value_days * interval '1 day', time_zone) AS before FROM site
     WHERE id = $1 AND probe_value_days IS NOT NULL
  ), due AS (
    SELECT rollup.system_id, rollup.quantity_code, rollup.at, rollup.method_id, rollup.kit_id, rollup.instrument, place.time_zone,
           date_trunc('day', rollup.at + interval '36 hours', place.time_zone) AS until
      FROM place JOIN system ON system.site_id = place.id
      JOIN reading_rollup AS rollup ON rollup.system_id = system.id AND rollup.grain = 'day' AND rollup.gone IS NULL
       AND rollup.at <= place.before - interval '23 hours'
     WHERE NOT ${waits}
       -- Packed by another day than the site has now: it is made rows first.
       AND NOT EXISTS (SELECT FROM reading_pack AS pack
                        WHERE pack.system_id = rollup.system_id AND pack.quantity_code = rollup.quantity_code AND pack.method_id = rollup.method_id
                          AND pack.kit_id IS NOT DISTINCT FROM rollup.kit_id AND pack.until_at > rollup.at AND pack.from_at <> rollup.at
                          AND pack.from_at < date_trunc('day', rollup.at + interval '36 hours', place.time_zone))
     ORDER BY rollup.system_id, rollup.quantity_code, rollup.at LIMIT ${daysAtOnce}
  ), ${readingsOfDue}, left_out AS (
    DELETE FROM reading USING one WHERE reading.id = one.id AND one.as_sent AND NOT one.is_middle
    RETURNING one.system_id, one.quantity_code, one.day, one.method_id, one.instrument, one.time_zone, one.at
  ), packs_out AS (
    DELETE FROM reading_pack AS pack USING (SELECT DISTINCT system_id, quantity_code, day, method_id, kit_id, instrument, time_zone FROM one WHERE as_sent) AS whole
     WHERE pack.system_id = whole.system_id AND pack.quantity_code = whole.quantity_code AND pack.from_at = whole.day
       AND pack.method_id = whole.method_id AND pack.kit_id IS NOT DISTINCT FROM whole.kit_id
       AND pack.until_at > whole.day AND pack.until_at <= whole.day + interval '26 hours'
    RETURNING whole.*, pack.times
  ), all_out AS (
    SELECT * FROM left_out
    UNION ALL
    SELECT system_id, quantity_code, day, method_id, instrument, time_zone, day + ms * interval '1 millisecond' FROM packs_out CROSS JOIN unnest(times) AS ms
  ), told AS (
    SELECT system_id, quantity_code, 'day'::"RollupGrain" AS grain, day AS at, method_id, instrument, count(*)::int AS gone FROM all_out GROUP BY 1, 2, 4, 5, 6
    UNION ALL
    SELECT system_id, quantity_code, 'hour', date_trunc('hour', at, time_zone), method_id, instrument, count(*)::int FROM all_out GROUP BY 1, 2, 4, 5, 6
    UNION ALL
    SELECT system_id, quantity_code, 'day', at, method_id, instrument, 0 FROM due
     WHERE NOT EXISTS (SELECT FROM all_out WHERE all_out.day = due.at AND all_out.system_id = due.system_id AND all_out.quantity_code = due.quantity_code
                          AND all_out.method_id = due.method_id AND all_out.instrument = due.instrument)
  ), kept AS (
    UPDATE reading_rollup AS rollup SET gone = told.gone, packed = CASE WHEN told.grain = 'day' AND told.gone > 0 THEN 0 ELSE rollup.packed END FROM told
     WHERE rollup.system_id = told.system_id AND rollup.quantity_code = told.quantity_code AND rollup.grain = told.grain AND rollup.at = told.at
       AND rollup.method_id = told.method_id AND rollup.instrument = told.instrument
    RETURNING 1)
  SELECT (SELECT count(*)::int FROM due) AS days, (SELECT count(*)::int FROM all_out) AS gone, (SELECT max(day) FROM all_out) AS "until",
         (SELECT count(*)::int FROM kept) AS kept`;

interface Piece {
  /** Days of instruments that were asked about; 0: none is left. */
  days: number;
  gone: number;
  /** The latest day of which values went. */
  until: Date | null;
}

/**
 * Lets the values of probes go that are older than their site keeps them: each day's middle one stays, as do the figures of
 * its hours and of the day. The journal is told how many of each site went.
 */
export async function letGo(service: Service): Promise<void> {
  const { db, now } = service;
  const sites = await db.site.findMany({ where: { probeValueDays: { not: null } }, select: { id: true } });
  for (const { id } of sites) {
    const told = await letSomeGo(db, id, now());
    if (told.gone > 0)
      await change(service, { accountId: null }, async (work) =>
        work.record(
          'probes.let_go',
          { type: 'site', id },
          { values: told.gone, until: told.until?.toISOString() },
        ),
      );
  }
}

/** Piece by piece, each a transaction of its own, until none is left for this night. */
async function letSomeGo(db: Service['db'], siteId: string, now: Date): Promise<Omit<Piece, 'days'>> {
  const all: Omit<Piece, 'days'> = { gone: 0, until: null };
  for (let i = 0; i < mostPieces; i++) {
    const [, [told]] = await db.$transaction([
      db.$queryRaw`SELECT set_config('evenwater.letting_go', 'on', true)`,
      db.$queryRawUnsafe<Piece[]>(piece, siteId, now),
    ]);
    if (told === undefined || told.days === 0) break;
    all.gone += told.gone;
    if (told.until !== null && (all.until === null || told.until > all.until)) all.until = told.until;
  }
  return all;
}
