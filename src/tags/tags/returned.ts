import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** Pieces under a tag that were given back after their sale. */
export interface Returned {
  pieces: number;
  at: Date;
}

/** Whether pieces under a tag came back to the farm; null where none did. Nothing is said of the buyer. One query. */
export async function returnedUnder(reader: SqlReader, tagId: string): Promise<Returned | null> {
  const { rows } = await reader.query<Returned & Record<string, unknown>>(
    `SELECT line.back_pieces AS pieces, max(step.at) AS at
       FROM order_line AS line JOIN order_stage_change AS step ON step.order_id = line.order_id AND step.stage = 'returned'
      WHERE line.tag_id = $1::uuid AND line.back_pieces > 0 GROUP BY line.id`,
    [tagId],
  );
  return rows[0] ?? null;
}
