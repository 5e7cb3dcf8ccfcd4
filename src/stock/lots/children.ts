import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Page } from '../../platform/door/pages.ts';

/** A lot that was made of another: cut from it, or split off. */
export interface ChildLot {
  id: string;
  code: string;
  pieces: number;
  arrivedAt: Date;
}

/** Where it stands among all that were made of one lot: since when it is a lot, its id. */
export type ChildPlace = readonly [arrivedAt: string, id: string];

export const placeOfChild = ({ arrivedAt, id }: ChildLot): ChildPlace => [arrivedAt.toISOString(), id];

const query = `
  SELECT id, code, pieces, arrived_at AS "arrivedAt" FROM lot
   WHERE parent_id = $1::uuid AND ($2::timestamptz IS NULL OR (arrived_at, id) < ($2::timestamptz, $3::uuid))
   ORDER BY arrived_at DESC, id DESC LIMIT $4::int`;

/** The lots that were made of one, the newest first. A mother has thousands in some years. One query. */
export async function childrenOf(
  reader: SqlReader,
  lotId: string,
  { after, limit }: Page<ChildPlace>,
): Promise<ChildLot[]> {
  return (await reader.query<ChildLot>(query, [lotId, ...(after ?? [null, null]), limit])).rows;
}
