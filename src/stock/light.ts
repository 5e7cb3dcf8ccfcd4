import type pg from 'pg';
import { type Exposure, lotExposures } from '../farm/exposure.ts';
import { accustomedTo } from '../farm/habits.rules.ts';
import type { Care } from './care.ts';

/** The light a lot has lived in, its own stays after those of the lots it came out of. */
export interface LotLight {
  exposures: Exposure[];
  /** What it gets where it stands now; null when it is unplaced or its slots were never surveyed. */
  now: Exposure | null;
  /** The daily light it is accustomed to, mol/(m2 d); null when nothing is known. */
  accustomed: number | null;
}

const descent = `
  WITH RECURSIVE line AS (
    SELECT id AS lot, id AS ancestor, NULL::timestamptz AS until, 0 AS steps FROM lot WHERE id = ANY($1) AND parent_id IS NOT NULL
    UNION ALL
    SELECT line.lot, child.parent_id, least(line.until, coalesce(cut.at, (SELECT min(at) FROM ledger_entry WHERE lot_id = child.id))),
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

/** The light lots have lived in, what the lots they were cut from had before their own; oldest first. Five queries. */
export async function lotLines(
  pool: pg.Pool,
  lotIds: readonly string[],
  now: Date,
  since?: Date,
): Promise<Map<string, Exposure[]>> {
  const { rows } = await pool.query<{ lot: string; ancestor: string; until: Date | null }>(descent, [lotIds]);
  const ancestors = [...new Set([...lotIds, ...rows.map((row) => row.ancestor)])];
  const filter = { lotIds: ancestors, ...(since === undefined ? {} : { since }) };
  const known = await lotExposures(pool, filter, now);
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

/**
 * The light of lots. A lot that was cut or split off begins accustomed to what the lot it came out of had; one
 * that came from elsewhere begins accustomed to the first light known here. Five queries, however many lots.
 * @param care as `lotCare` gives it: the kind's time constant (`adaptation_days`), 10 days where it has none
 */
export async function lotLights(
  pool: pg.Pool,
  lotIds: readonly string[],
  care: ReadonlyMap<string, Care>,
  now: Date,
): Promise<Map<string, LotLight>> {
  const lines = await lotLines(pool, lotIds, now);
  return new Map(
    [...lines].map(([lotId, exposures]) => {
      const last = exposures.at(-1);
      const days = care.get(lotId)?.adaptation_days?.high ?? null;
      return [
        lotId,
        {
          exposures,
          now: last?.to === null ? last : null,
          accustomed: accustomedTo(exposures, days, now),
        },
      ];
    }),
  );
}
