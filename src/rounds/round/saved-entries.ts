import type pg from 'pg';
import type { Comparison, ConditionState } from '../../generated/prisma/enums.ts';

/** What an entry holds besides its subjects; which of these depends on its kind. */
export interface SavedDetail {
  state?: ConditionState;
  grade?: number | null;
  compared?: Comparison | null;
  /** Of a rack passed: the looks "no worse" that came of it. */
  asBefore?: string[];
  /** Of a look at a pest: which one, '' where it was not told, and how many were counted. */
  pest?: string;
  pestCount?: number | null;
  note?: string;
  pieces?: number | null;
  code?: string;
  label?: string;
  /** Of a rack counted in a stocktake: its name, and how many lots were counted. */
  rack?: string;
  counted?: number;
  clock?: string;
  well?: number;
  feedingId?: string;
  food?: string;
  /** How what was fed was taken. */
  response?: string;
  /** Of a chore. */
  key?: string;
  trust?: string;
  /** Of due work that was ticked off, a chore or a reading: what it was. */
  what?: string;
  racks?: { id: string; name: string; tank: string }[];
  /** Of a refused entry: what was sent, why it was not taken, and how it was mended. */
  sent?: Record<string, unknown>;
  why?: string;
  /** True where it was refused in doubt: it is taken when a person says that it is really so. */
  asks?: boolean;
  mended?: { at: string; why?: string };
}

/** One entry of a round as it was kept. */
export interface SavedEntry {
  id: string;
  kind: string;
  rackId: string | null;
  lotId: string | null;
  systemId: string | null;
  at: Date;
  who: string | null;
  detail: SavedDetail;
}

const entryQuery = `
  SELECT entry.id, entry.kind, entry.rack_id AS "rackId", entry.lot_id AS "lotId", entry.system_id AS "systemId",
         entry.at, entry.detail, coalesce(entry.detail->>'notedBy', account.name) AS who
    FROM round_entry AS entry LEFT JOIN account ON account.id = entry.account_id
   WHERE entry.round_id = $1 AND entry.kind NOT IN ('taken_back', 'take_back') ORDER BY entry.at, entry.id`;

/** Everything noted on a round and not taken back, in order of time. One query. */
export async function savedEntries(pool: pg.Pool, roundId: string): Promise<SavedEntry[]> {
  return (await pool.query<SavedEntry>(entryQuery, [roundId])).rows;
}

/** A mark that changes with every entry of a round. One query. */
export async function latestEntry(pool: pg.Pool, roundId: string): Promise<string> {
  const { rows } = await pool.query<{ latest: string }>(
    `SELECT count(*) || ' ' || coalesce(max(received_at)::text, '') AS latest FROM round_entry WHERE round_id = $1`,
    [roundId],
  );
  return rows[0]?.latest ?? '';
}
