import { change } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';

/** Days of one instrument that are asked about by one statement: some 7,000 values of probes that report each minute (own choice). */
const daysAtOnce = 5;
/** So many pieces of a site in one night: the years that a farm had before are let go over some nights (own choice). */
const mostPieces = 1000;

// Days that ended so long ago, are rolled up as they are, and of which nobody has asked yet. All of a day's values of an
// instrument go but the lower middle one, which is the one that rules read (`record.ts`); or none, where somebody or
// something says more of one of them than the instrument sent: so that what is read of a day stays the same.
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
     WHERE NOT EXISTS (SELECT FROM reading_unrolled AS mark
                        WHERE mark.system_id = rollup.system_id AND mark.quantity_code = rollup.quantity_code
                          AND mark.from_at < rollup.at + interval '25 hours' AND mark.to_at >= rollup.at)
     ORDER BY rollup.system_id, rollup.quantity_code, rollup.at LIMIT ${daysAtOnce}
  ), cited AS MATERIALIZED (
    SELECT DISTINCT (piece ->> 'id')::uuid AS id
      FROM alert CROSS JOIN jsonb_path_query(alert.finding, '$.evidence[*] ? (@.kind == "reading")') AS piece
     WHERE alert.system_id IN (SELECT system_id FROM due)
  ), one AS (
    SELECT due.system_id, due.quantity_code, due.at AS day, due.method_id, due.instrument, due.time_zone, reading.id, reading.at,
           row_number() OVER whole_day - 1 = (count(*) OVER of_day - 1) / 2 AS is_middle,
           bool_and(method.every_minutes IS NOT NULL AND method.laboratory = '' AND reading.trust = 'plain' AND reading.voided_at IS NULL
             AND NOT reading.below_detection AND NOT reading.above_scale AND reading.note = '' AND reading.batch = '' AND reading.measured_by = ''
             AND num_nonnulls(reading.account_id, reading.import_id, reading.supersedes_id, reading.settled_by_id, reading.slot_id) = 0
             AND NOT EXISTS (SELECT FROM cited WHERE cited.id = reading.id)
             AND NOT EXISTS (SELECT FROM reading AS other WHERE other.supersedes_id = reading.id)
             AND NOT EXISTS (SELECT FROM reading AS other WHERE other.settled_by_id = reading.id)
             AND NOT EXISTS (SELECT FROM correction WHERE correction.reading_id = reading.id)) OVER of_day AS as_sent
      FROM due JOIN method ON method.id = due.method_id
     CROSS JOIN LATERAL (
       SELECT * FROM reading WHERE reading.system_id = due.system_id AND reading.quantity_code = due.quantity_code
          AND reading.at >= due.at AND reading.at < due.until AND reading.method_id = due.method_id
          AND reading.kit_id IS NOT DISTINCT FROM due.kit_id OFFSET 0) AS reading
    WINDOW of_day AS (PARTITION BY due.system_id, due.quantity_code, due.at, due.method_id, due.instrument),
           whole_day AS (of_day ORDER BY reading.value, reading.id)
  ), left_out AS (
    DELETE FROM reading USING one WHERE reading.id = one.id AND one.as_sent AND NOT one.is_middle
    RETURNING one.*
  ), told AS (
    SELECT system_id, quantity_code, 'day'::"RollupGrain" AS grain, day AS at, method_id, instrument, count(*)::int AS gone FROM left_out GROUP BY 1, 2, 4, 5, 6
    UNION ALL
    SELECT system_id, quantity_code, 'hour', date_trunc('hour', at, time_zone), method_id, instrument, count(*)::int FROM left_out GROUP BY 1, 2, 4, 5, 6
    UNION ALL
    SELECT system_id, quantity_code, 'day', at, method_id, instrument, 0 FROM due
     WHERE NOT EXISTS (SELECT FROM left_out WHERE left_out.day = due.at AND left_out.system_id = due.system_id AND left_out.quantity_code = due.quantity_code
                          AND left_out.method_id = due.method_id AND left_out.instrument = due.instrument)
  ), kept AS (
    UPDATE reading_rollup AS rollup SET gone = told.gone FROM told
     WHERE rollup.system_id = told.system_id AND rollup.quantity_code = told.quantity_code AND rollup.grain = told.grain AND rollup.at = told.at
       AND rollup.method_id = told.method_id AND rollup.instrument = told.instrument
    RETURNING 1)
  SELECT (SELECT count(*)::int FROM due) AS days, (SELECT count(*)::int FROM left_out) AS gone, (SELECT max(day) FROM left_out) AS "until",
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
