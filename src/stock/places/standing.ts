import pg from 'pg';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import { KeptByMarks } from '../../platform/database/kept-by-marks.ts';
import type { Mark } from '../../platform/database/marks.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { memoize } from '../../platform/memoize.ts';

/** A slot with its light and who stands in it. */
export interface StandingCell extends Cell {
  /** umol/(m2 s) at full light as the lamps are set now; null where it was never measured. */
  par: number | null;
  lotId: string | null;
}

/** A lot on a rack, with how many of its slots it takes. */
export interface StandingLot {
  id: string;
  pieces: number;
  slots: number;
}

/** A rack with what stands on it. Lengths in mm; null where nobody said. */
export interface StandingRack {
  id: string;
  name: string;
  rows: number;
  columns: number;
  depthMm: number;
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
  tankId: string;
  tankName: string;
  systemId: string;
  systemName: string;
  lampId: string | null;
  lampName: string | null;
  /** When its light was surveyed last. */
  measuredAt: Date | null;
  /** The lamps are at another setting than at the survey. */
  turned: boolean;
  /** The rack was mounted otherwise since the survey. */
  moved: boolean;
  lots: readonly StandingLot[];
  /** Row by row. */
  cells: readonly StandingCell[];
}

type RackRow = Omit<StandingRack, 'lots' | 'cells'>;

/** Exported for a test, which sees to it that each table leaves marks. $1: systems. */
export const rackQuery = `
  SELECT rack.id, rack.name, rack.rows, rack.columns, rack.depth_mm AS "depthMm", rack.left_mm AS "leftMm", rack.back_mm AS "backMm",
         rack.slot_width_mm AS "slotWidthMm", rack.slot_depth_mm AS "slotDepthMm", tank.id AS "tankId", tank.name AS "tankName",
         system.id AS "systemId", system.name AS "systemName", lamp.id AS "lampId", lamp.name AS "lampName",
         light.measured_at AS "measuredAt", coalesce(light.moved, false) AS moved,
         coalesce(light.lamp_percent <> light.survey_percent AND NOT light.other_lamp, false) AS turned
    FROM system
    JOIN tank ON tank.system_id = system.id
    JOIN rack ON rack.tank_id = tank.id
    LEFT JOIN lamp ON lamp.id = rack.lamp_id
    LEFT JOIN rack_light_now AS light ON light.rack_id = rack.id
   WHERE system.id = ANY($1::text[]::uuid[])
   ORDER BY tank.position, tank.name, rack.position, rack.name, rack.id`;

interface CellRow extends StandingCell {
  rackId: string;
  pieces: number;
}

/** $1: racks. Light and lots of these alone: joined to whole views, all racks of the farm would be read for them. */
export const cellQuery = `
  WITH lit AS MATERIALIZED (SELECT slot_id, par FROM slot_light_now WHERE rack_id = ANY($1::text[]::uuid[])),
  here AS MATERIALIZED (
    SELECT taken.slot_id, placement.lot_id
      FROM slot JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
      JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
     WHERE slot.rack_id = ANY($1::text[]::uuid[]))
  SELECT slot.rack_id AS "rackId", slot.row, slot."column", lit.par, lot.id AS "lotId", coalesce(lot.pieces, 0) AS pieces
    FROM slot
    LEFT JOIN lit ON lit.slot_id = slot.id
    LEFT JOIN here ON here.slot_id = slot.id
    LEFT JOIN lot ON lot.id = here.lot_id
   WHERE slot.rack_id = ANY($1::text[]::uuid[])
   ORDER BY slot.rack_id, slot.row, slot."column"`;

/** What stands in each system, read anew. Two queries. */
export async function readStanding(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<Map<string, readonly StandingRack[]>> {
  const racks = (await reader.query<RackRow>(rackQuery, [systemIds])).rows;
  const cells = (await reader.query<CellRow>(cellQuery, [racks.map(({ id }) => id)])).rows;
  const byRack = Map.groupBy(cells, ({ rackId }) => rackId);
  const bySystem = Map.groupBy(
    racks.map((rack) => ({ ...rack, ...standingOn(rack, byRack.get(rack.id) ?? []) })),
    ({ systemId }) => systemId,
  );
  return new Map(systemIds.map((id) => [id, bySystem.get(id) ?? []]));
}

function standingOn({ rows, columns }: RackRow, slots: readonly CellRow[]) {
  const lots = new Map<string, StandingLot>();
  for (const { lotId, pieces } of slots) {
    if (lotId === null) continue;
    const lot = lots.get(lotId) ?? { id: lotId, pieces, slots: 0 };
    lot.slots += 1;
    lots.set(lotId, lot);
  }
  const inside = slots.filter(({ row, column }) => row <= rows && column <= columns);
  return {
    lots: [...lots.values()],
    cells: inside.map(({ row, column, par, lotId }) => ({ row, column, par, lotId })),
  };
}

/** What is written of any of these leaves one of these marks; of lots and placements those of the systems concerned. */
const staleBy = new Set(['all', 'place', 'lot']);

const isStale = (systemId: string, _: unknown, mark: Mark): boolean =>
  staleBy.has(mark.part) && (mark.systemId === null || mark.systemId === systemId);

/** Systems kept at most; own choice. One of 360 slots takes some 80 kB, so that is some 20 MB. */
const mostKept = 250;

const keptOf = memoize(
  (pool: pg.Pool) => new KeptByMarks<readonly StandingRack[]>(pool, { isStale, most: mostKept }),
);

/**
 * The racks of systems with what stands on them, tank by tank, in their order. What did not change since it was last asked
 * for is not read again: one query then, for what changed.
 */
export async function standingIn(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<Map<string, readonly StandingRack[]>> {
  if (systemIds.length === 0) return new Map();
  const read = (ids: readonly string[]) => readStanding(reader, ids);
  // A transaction sees what it changed itself, of which no mark tells others yet.
  return reader instanceof pg.Pool ? keptOf(reader).of(systemIds, read) : read(systemIds);
}
