import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** A tank at which something was, and until when. */
export interface PastPlace {
  tank: string;
  system: string;
  until: Date;
}

interface Move extends PastPlace {
  from: string;
  to: string;
}

const query = `
  SELECT line.detail -> 'before' ->> 'tankId' AS "from", line.detail -> 'after' ->> 'tankId' AS "to",
         (line.detail -> 'after' ->> 'since')::timestamptz AS until, coalesce(tank.name, 'a tank that is gone') AS tank,
         coalesce(system.name, '') AS system
    FROM journal_line AS line
    LEFT JOIN tank ON tank.id::text = line.detail -> 'before' ->> 'tankId' LEFT JOIN system ON system.id = tank.system_id
   WHERE line.subject_type = $1 AND line.subject_id = $2 AND line.detail -> 'after' ? 'since' AND line.detail -> 'before' ->> 'tankId' IS NOT NULL
   ORDER BY line.at DESC, line.id DESC`;

/**
 * Where a device, or a set of lamps, was before it came to the tank where it is: moves as the journal tells them, the
 * latest first. A move that was undone leads to no place that follows, and is left out. One query.
 */
export async function pastPlaces(
  reader: SqlReader,
  noun: 'equipment' | 'lamp',
  { id, tankId }: { id: string; tankId: string | null },
): Promise<PastPlace[]> {
  const { rows } = await reader.query<Move>(query, [noun, id]);
  let at = tankId;
  return rows.flatMap(({ from, to, ...place }) => {
    if (to !== at) return [];
    at = from;
    return [place];
  });
}
