import type pg from 'pg';
import { stillAfterMs, type Watched, type WatchGap, watchGaps } from './gaps.rules.ts';

/** A system that was judged, and the rules that broke there. */
export interface Judged {
  systemId: string;
  broken: readonly string[];
}

const keepQuery = `
  INSERT INTO system_watch AS kept (system_id, judged_at, broken, broken_since)
  SELECT "systemId", $2, broken, CASE WHEN cardinality(broken) > 0 THEN $2::timestamptz END
    FROM (SELECT "systemId", ARRAY(SELECT jsonb_array_elements_text(broken)) AS broken
            FROM jsonb_to_recordset($1::jsonb) AS judged("systemId" uuid, broken jsonb)) AS judged
    JOIN system ON system.id = "systemId"
      ON CONFLICT (system_id) DO UPDATE
     SET judged_at = excluded.judged_at, broken = excluded.broken,
         broken_since = CASE WHEN excluded.broken_since IS NULL THEN NULL
                             ELSE coalesce(kept.broken_since, excluded.broken_since) END
   WHERE kept.judged_at <= excluded.judged_at`;

/** Keeps when systems were judged and what could not be judged there. One statement. */
export async function keepJudged(pool: pg.Pool, judged: readonly Judged[], now: Date): Promise<void> {
  if (judged.length === 0) return;
  await pool.query(keepQuery, [JSON.stringify(judged), now]);
}

// A system that was set up a moment ago waits for its first look.
const watchedQuery = `
  SELECT system.name, watch.judged_at AS "judgedAt", coalesce(watch.broken, '{}') AS broken, watch.broken_since AS "brokenSince"
    FROM system LEFT JOIN system_watch AS watch ON watch.system_id = system.id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
     AND (watch.system_id IS NOT NULL OR system.created_at < $2)
   ORDER BY system.position, system.name`;

/**
 * What no alert of a site can tell at `now`, since the watch did not look. One query.
 * @param headingOf a rule's name for people
 */
export async function watchGapsNow(
  pool: pg.Pool,
  { id, timeZone }: { id: string; timeZone: string },
  headingOf: (rule: string) => string,
  now: Date,
): Promise<WatchGap[]> {
  const { rows } = await pool.query<Watched>(watchedQuery, [id, new Date(now.getTime() - stillAfterMs)]);
  return watchGaps(rows, headingOf, { timeZone, now });
}

/** Whether a system was not judged for an hour: the look of the hour was missed while the service was away. */
export async function missedTheHour(pool: pg.Pool, now: Date): Promise<boolean> {
  const { rows } = await pool.query<{ missed: boolean }>(
    `SELECT EXISTS (SELECT FROM system LEFT JOIN system_watch AS watch ON watch.system_id = system.id
                     WHERE system.retired_at IS NULL
                       AND (watch.judged_at IS NULL OR watch.judged_at < $1::timestamptz - interval '1 hour')) AS missed`,
    [now],
  );
  return rows[0]?.missed ?? false;
}
