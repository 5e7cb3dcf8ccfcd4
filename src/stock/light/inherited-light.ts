import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { ArrivalLight } from './accustomed.rules.ts';
import { type Exposure, lotExposures } from './exposure.ts';

const ancestry = `
  WITH RECURSIVE line AS (
    SELECT id AS lot, id AS ancestor, NULL::timestamptz AS until, 0 AS steps FROM lot WHERE id = ANY($1) AND parent_id IS NOT NULL
    UNION ALL
    SELECT line.lot, child.parent_id, least(line.until, coalesce(cut.at, (SELECT min(at) FROM ledger_entry WHERE lot_id = child.id AND voided_at IS NULL))),
           line.steps + 1
      FROM line JOIN lot AS child ON child.id = line.ancestor
      LEFT JOIN cut ON cut.into_lot_id = child.id
     WHERE child.parent_id IS NOT NULL AND line.steps < 20)
  SELECT lot, ancestor, until FROM line ORDER BY lot, steps DESC`;

function upTo(until: Date | null, pieces: readonly Exposure[]): Exposure[] {
  if (until === null) return [...pieces];
  return pieces
    .filter((piece) => piece.from < until)
    .map((piece) => (piece.to === null || piece.to > until ? { ...piece, to: until } : piece));
}

/** The light of lots, oldest first: first that of the lots they were cut from, then their own. Five queries. */
export async function lightHistories(
  reader: SqlReader,
  lotIds: readonly string[],
  now: Date,
  since?: Date,
): Promise<Map<string, Exposure[]>> {
  const { rows } = await reader.query<{ lot: string; ancestor: string; until: Date | null }>(ancestry, [
    lotIds,
  ]);
  const ancestors = [...new Set([...lotIds, ...rows.map((row) => row.ancestor)])];
  const filter = { lotIds: ancestors, ...(since === undefined ? {} : { since }) };
  const known = await lotExposures(reader, filter, now);
  const lines = Map.groupBy(rows, (row) => row.lot);
  return new Map(
    lotIds.map((lotId) => {
      const line = lines.get(lotId);
      if (line === undefined) return [lotId, known.get(lotId) ?? []];
      const pieces = line.flatMap(({ ancestor, until }) => upTo(until, known.get(ancestor) ?? []));
      return [lotId, pieces.sort((a, b) => a.from.getTime() - b.from.getTime())];
    }),
  );
}

const arrivalQuery = `
  SELECT acclimation_lot.lot_id AS "lotId", (acclimation.starts_on - DATE '1970-01-01')::float8 AS "startsDay",
         acclimation.from_dli AS "fromDli"
    FROM acclimation_lot JOIN acclimation ON acclimation.id = acclimation_lot.acclimation_id
   WHERE acclimation_lot.lot_id = ANY($1::uuid[]) AND acclimation_lot.ended_at IS NULL AND acclimation.created_at <= $2`;

/** What the running acclimations of lots state as the light they were accustomed to at the start. One query. */
export async function arrivalLights(
  reader: SqlReader,
  lotIds: readonly string[],
  now: Date,
): Promise<Map<string, ArrivalLight>> {
  const { rows } = await reader.query<ArrivalLight & { lotId: string }>(arrivalQuery, [lotIds, now]);
  return new Map(rows.map(({ lotId, ...arrival }) => [lotId, arrival]));
}
