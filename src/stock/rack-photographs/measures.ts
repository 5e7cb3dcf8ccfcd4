import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dayOf } from '../../science/numeric/time.ts';
import type { Shot } from '../../science/whiteness/visits.ts';

/** One photograph of a rack with the whiteness of its lots. */
export interface RackShot extends Shot {
  id: string;
  /** ISO 8601. */
  at: string;
}

/** The photographs of one rack that count, the oldest first. */
export interface RackShots {
  rackId: string;
  rackName: string;
  systemId: string;
  shots: readonly RackShot[];
}

/** Whiteness is followed so many days back (own choice: the line of a lot, and as much before it to learn the scatter by). */
export const SHOT_DAYS = 200;

const shotsQuery = `
  SELECT taken.id, taken.taken_at AS at, rack.id AS "rackId", rack.name AS "rackName", tank.system_id AS "systemId",
         json_agg(json_build_array(shown.lot_id, shown.whiteness, shown.whiteness_error)) AS lots
    FROM rack_photograph AS taken JOIN rack ON rack.id = taken.rack_id JOIN tank ON tank.id = rack.tank_id
    JOIN rack_photograph_lot AS shown ON shown.photograph_id = taken.id
   WHERE (tank.system_id = ANY($1::uuid[]) OR rack.id = ANY($2::uuid[])) AND taken.voided_at IS NULL
     AND shown.whiteness IS NOT NULL AND shown.refused_at IS NULL AND taken.taken_at > $3 AND taken.taken_at <= $4
   GROUP BY taken.id, rack.id, tank.id ORDER BY rack.id, taken.taken_at, taken.id`;

interface ShotRow extends Omit<RackShots, 'shots'> {
  id: string;
  at: Date;
  lots: [string, number, number][];
}

/** Whiteness by photograph, of all racks of some systems or of some racks. What was refused or taken back is left out. One query. */
export async function rackShots(
  sql: SqlReader,
  of: { systemIds: readonly string[] } | { rackIds: readonly string[] },
  { since, now }: { since: Date; now: Date },
): Promise<RackShots[]> {
  const asked = 'systemIds' in of ? [of.systemIds, []] : [[], of.rackIds];
  const { rows } = await sql.query<ShotRow>(shotsQuery, [...asked, since, now]);
  return [...Map.groupBy(rows, ({ rackId }) => rackId).values()].map((ofRack) => {
    const [{ rackId, rackName, systemId }] = ofRack as [ShotRow];
    return { rackId, rackName, systemId, shots: ofRack.map(shotOf) };
  });
}

const shotOf = ({ id, at, lots }: ShotRow): RackShot => ({
  ...{ id, at: at.toISOString(), day: dayOf(at) },
  lots: new Map(lots.map(([lotId, L, u]) => [lotId, { L, u }])),
});

/** What one photograph tells of a lot. */
export interface LotMeasure {
  /** Of its row: the address at which it is corrected. */
  id: string;
  photographId: string;
  takenAt: Date;
  rackId: string;
  rackName: string;
  slots: string;
  photoId: string | null;
  whiteness: number | null;
  whitenessError: number | null;
  areaMm2: number | null;
  areaLowMm2: number | null;
  areaHighMm2: number | null;
  /** Whether its height could be taken out of its area. */
  cameraKnown: boolean;
  /** Its pieces then, by the ledger. */
  pieces: number;
  leftOut: string | null;
  refuseReason: string | null;
}

const measuresQuery = `
  SELECT shown.id, taken.id AS "photographId", taken.taken_at AS "takenAt", rack.id AS "rackId", rack.name AS "rackName", shown.slots,
         CASE WHEN photo.voided_at IS NULL THEN shown.photo_id END AS "photoId", shown.whiteness, shown.whiteness_error AS "whitenessError",
         shown.area_mm2 AS "areaMm2", shown.area_low_mm2 AS "areaLowMm2", shown.area_high_mm2 AS "areaHighMm2",
         taken.camera_mm IS NOT NULL AS "cameraKnown", shown.left_out AS "leftOut", shown.refuse_reason AS "refuseReason",
         coalesce((SELECT sum(change)::int FROM ledger_entry WHERE lot_id = shown.lot_id AND at <= taken.taken_at AND voided_at IS NULL), 0) AS pieces
    FROM rack_photograph_lot AS shown JOIN rack_photograph AS taken ON taken.id = shown.photograph_id
    JOIN rack ON rack.id = taken.rack_id LEFT JOIN photo ON photo.id = shown.photo_id
   WHERE shown.lot_id = $1::uuid AND taken.voided_at IS NULL ORDER BY taken.taken_at DESC, taken.id DESC LIMIT $2`;

/** What photographs of racks tell of a lot, the newest first; of those taken back nothing. One query. */
export const lotMeasures = async (sql: SqlReader, lotId: string, most: number): Promise<LotMeasure[]> =>
  (await sql.query<LotMeasure>(measuresQuery, [lotId, most])).rows;
