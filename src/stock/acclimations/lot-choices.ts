import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { daysBefore } from '../../science/numeric/time.ts';

/** Lots that may be chosen together: those of a rack, or of one delivery. */
export interface LotGroup {
  title: string;
  lots: { id: string; code: string; kind: string; place: string; busy: boolean }[];
}

interface Row {
  id: string;
  code: string;
  kind: string;
  origin: string;
  arrivedAt: string;
  place: string | null;
  busy: boolean;
}

const columns = `
  SELECT lot.id, lot.code, kind.name AS kind, lot.origin,
         to_char(lot.arrived_at AT TIME ZONE site.time_zone, 'YYYY-MM-DD') AS "arrivedAt", place.words AS place,
         EXISTS (SELECT 1 FROM acclimation_lot WHERE lot_id = lot.id AND ended_at IS NULL) AS busy
    FROM lot
    JOIN kind ON kind.id = lot.kind_id
    JOIN site ON site.id = lot.site_id
    LEFT JOIN LATERAL (SELECT min(rack_name) || ', ' || min(slot_name) AS words, (min(rack_id::text))::uuid AS rack_id
                         FROM lot_place WHERE lot_id = lot.id) AS place ON true
   WHERE lot.site_id = $1 AND lot.pieces > 0`;

const lotOf = ({ id, code, kind, place, busy }: Row) => ({ id, code, kind, place: place ?? '', busy });

/** The lots that stand on a rack. Two queries. */
export async function lotGroupOnRack(reader: SqlReader, siteId: string, rackId: string): Promise<LotGroup[]> {
  const query = `${columns} AND place.rack_id = $2 ORDER BY lot.code`;
  const [{ rows }, rack] = await Promise.all([
    reader.query<Row>(query, [siteId, rackId]),
    reader.query<{ name: string }>('SELECT name FROM rack WHERE id = $1', [rackId]),
  ]);
  return rows.length === 0 ? [] : [{ title: rack.rows[0]?.name ?? '', lots: rows.map(lotOf) }];
}

/** Deliveries of the last 30 days: lots of one day and one origin that were not grown here, the newest first, at most 400 lots to tick. One query. */
export async function recentDeliveries(
  reader: SqlReader,
  siteId: string,
  now: Date,
  dayWords: (day: string) => string,
): Promise<LotGroup[]> {
  const query = `${columns} AND lot.parent_id IS NULL AND lot.arrived_at > $2 ORDER BY lot.arrived_at DESC, lot.origin, lot.code LIMIT 400`;
  const { rows } = await reader.query<Row>(query, [siteId, daysBefore(now, 30)]);
  return [...Map.groupBy(rows, (row) => `${row.arrivedAt} ${row.origin}`).values()].map((group) => ({
    title: `${dayWords(group[0]?.arrivedAt ?? '')}${group[0]?.origin === '' ? '' : `, ${group[0]?.origin}`}`,
    lots: group.map(lotOf),
  }));
}

/** Lots by their codes, as people type them, with or without hyphens; codes that are none are given back. One query. */
export async function lotIdsOf(
  reader: SqlReader,
  siteId: string,
  codes: readonly string[],
): Promise<{ ids: string[]; unknown: string[] }> {
  const bare = (code: string) => code.toUpperCase().replace(/[^A-Z0-9]/g, '');
  const query = `SELECT id, replace(code, '-', '') AS bare FROM lot WHERE site_id = $1 AND replace(code, '-', '') = ANY($2)`;
  const { rows } = await reader.query<{ id: string; bare: string }>(query, [siteId, codes.map(bare)]);
  const found = new Set(rows.map((row) => row.bare));
  return { ids: rows.map((row) => row.id), unknown: codes.filter((code) => !found.has(bare(code))) };
}
