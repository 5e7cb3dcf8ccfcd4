import type pg from 'pg';
import { hourMs } from '../../science/numeric/time.ts';

/** Facts that were changed: of one system, or (null) of any; `code` and the time of the earliest one only of readings. */
export interface Mark {
  part: string;
  systemId: string | null;
  code: string | null;
  /** Milliseconds since 1970; null where that is not known. */
  fromMs: number | null;
}

interface Row {
  horizon: string;
  /** Milliseconds since 1970, by the database's clock. */
  askedMs: number;
  marks: (Mark & { ids: number[] })[];
}

// In one statement, so that transactions the marks do not show yet are at the horizon or beyond it.
const query = `
  SELECT pg_snapshot_xmin(pg_current_snapshot())::text AS horizon, date_part('epoch', clock_timestamp()) * 1000 AS "askedMs",
         coalesce((SELECT json_agg(each) FROM (
           SELECT part, system_id AS "systemId", quantity_code AS code, date_part('epoch', min(rows_from)) * 1000 AS "fromMs", array_agg(id) AS ids
             FROM fact_mark WHERE transaction >= $1::bigint GROUP BY part, system_id, quantity_code) AS each), '[]') AS marks`;

const forgetQuery = `DELETE FROM fact_mark WHERE at < clock_timestamp() - interval '1 day'`;

/** Marks are kept for a day; whoever did not ask for half of one no longer relies on them. */
const longestGapMs = 12 * hourMs;

/**
 * Follows what transactions changed, those of other instances too. A mark may be told twice, and none is missed: asked
 * for are all of transactions that had not ended for sure when it was last asked.
 */
export class MarkReader {
  #horizon: string | null = null;
  #askedMs = 0;
  #seen = new Set<number>();

  /** What changed since this was last called; null where that cannot be told, as at the first time. */
  async news(pool: pg.Pool): Promise<Mark[] | null> {
    const { rows } = await pool.query<Row>(query, [this.#horizon]);
    const { horizon, askedMs, marks } = rows[0] as Row;
    const followed = this.#horizon !== null && askedMs - this.#askedMs < longestGapMs;
    const fresh = marks.filter(({ ids }) => ids.some((id) => !this.#seen.has(id)));
    this.#horizon = horizon;
    this.#askedMs = askedMs;
    this.#seen = new Set(marks.flatMap(({ ids }) => ids));
    return followed ? fresh : null;
  }
}

/** Deletes marks that nobody asks for any more. */
export async function forgetMarks(pool: pg.Pool): Promise<void> {
  await pool.query(forgetQuery);
}
