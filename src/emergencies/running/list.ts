import type pg from 'pg';
import { type Noted, type TickedLook, withTick } from './progress.rules.ts';

/** One emergency as lists and its page show it. */
export interface EmergencyLine {
  id: string;
  siteId: string;
  event: string;
  title: string;
  startedAt: Date;
  startedBy: string | null;
  endedAt: Date | null;
  endedBy: string | null;
  ending: string;
  systems: { id: string; name: string }[];
  /** Alerts of its systems that are open, or opened while it ran. */
  alerts: number;
  /** Who was called since somebody last answered, in their order. */
  unanswered: string[];
}

const columns = `
  SELECT emergency.id, emergency.site_id AS "siteId", emergency.event, emergency.title, emergency.started_at AS "startedAt", starter.name AS "startedBy",
         emergency.ended_at AS "endedAt", ender.name AS "endedBy", emergency.ending,
         (SELECT json_agg(json_build_object('id', system.id, 'name', system.name) ORDER BY system.position, system.name)
            FROM emergency_system JOIN system ON system.id = system_id WHERE emergency_id = emergency.id) AS systems,
         (SELECT count(*)::int FROM alert JOIN emergency_system AS own ON own.system_id = alert.system_id
           WHERE own.emergency_id = emergency.id AND alert.opened_at >= emergency.started_at
             AND (emergency.ended_at IS NULL OR alert.opened_at <= emergency.ended_at)) AS alerts,
         coalesce((SELECT json_agg(call.text ORDER BY call.at, call.id) FROM emergency_entry AS call
           WHERE call.emergency_id = emergency.id AND call.kind = 'called'
             AND NOT EXISTS (SELECT 1 FROM emergency_entry AS answer WHERE answer.emergency_id = emergency.id
                              AND answer.kind IN ('taken', 'looked') AND answer.at >= call.at)
             AND NOT EXISTS (SELECT 1 FROM look WHERE look.key = 'emergency:' || emergency.id AND look.done_at >= call.at
                              AND NOT EXISTS (SELECT 1 FROM emergency_entry AS own WHERE own.emergency_id = emergency.id
                                               AND own.created_at = look.done_at))), '[]') AS unanswered
    FROM emergency LEFT JOIN account AS starter ON starter.id = emergency.account_id
    LEFT JOIN account AS ender ON ender.id = emergency.ended_by_id`;

/** What runs now, and what ended since; newest first. */
export async function listEmergencies(
  pool: pg.Pool,
  siteId: string,
  since: Date,
  until: Date,
): Promise<EmergencyLine[]> {
  const { rows } = await pool.query<EmergencyLine>(
    `${columns} WHERE emergency.site_id = $1 AND emergency.started_at <= $3
        AND (emergency.ended_at IS NULL OR emergency.ended_at > $2) ORDER BY emergency.started_at DESC, emergency.id`,
    [siteId, since, until],
  );
  return rows;
}

/** What has not ended, of all sites. */
export async function openEmergencies(pool: pg.Pool): Promise<EmergencyLine[]> {
  const { rows } = await pool.query<EmergencyLine>(
    `${columns} WHERE emergency.ended_at IS NULL ORDER BY emergency.started_at, emergency.id`,
  );
  return rows;
}

/** One emergency of the site; undefined where there is none. */
export async function emergencyLine(
  pool: pg.Pool,
  siteId: string,
  id: string,
): Promise<EmergencyLine | undefined> {
  const { rows } = await pool.query<EmergencyLine>(
    `${columns} WHERE emergency.site_id = $1 AND emergency.id = $2`,
    [siteId, id],
  );
  return rows[0];
}

const tickedQuery = `
  SELECT look.id, look.done_at AS at, account.name AS who, look.note
    FROM look LEFT JOIN account ON account.id = look.done_by_id
   WHERE look.key = 'emergency:' || $1::text AND look.done_at IS NOT NULL`;

/** What was noted, oldest first, with its look where that was ticked off elsewhere. Two queries. */
export async function entriesOf(pool: pg.Pool, id: string): Promise<Noted[]> {
  const ticked = await pool.query<TickedLook>(tickedQuery, [id]);
  const merged = withTick(await notedEntries(pool, id), ticked.rows[0] ?? null, lookedEntry);
  return [...merged];
}

const lookedEntry = ({ id, at, who, note }: TickedLook): Noted => ({
  ...{ id, at, who, kind: 'looked', step: '', text: note, dueAt: null, contactId: null },
});

/** What was noted on its own page, oldest first. */
export async function notedEntries(pool: pg.Pool, id: string): Promise<Noted[]> {
  const { rows } = await pool.query<Noted>(
    `SELECT emergency_entry.id, kind, step, coalesce(nullif(text, ''), switched_off.what, '') AS text, emergency_entry.at,
            emergency_entry.due_at AS "dueAt", account.name AS who, contact_id AS "contactId"
       FROM emergency_entry LEFT JOIN account ON account.id = emergency_entry.account_id
       LEFT JOIN switched_off ON switched_off.id = switched_off_id
      WHERE emergency_id = $1 ORDER BY emergency_entry.at, emergency_entry.created_at, emergency_entry.id`,
    [id],
  );
  return rows;
}
