import { ASSUMED_HOURS, fullLightHours } from '../../farm/light/lamp-settings.rules.ts';
import { flowLevel } from '../../farm/racks/flow.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { openInSql } from '../../platform/plans/plans.rules.ts';
import { dailyLightMolM2 } from '../../science/light.ts';
import { type Care, lotCare } from '../../stock/kinds/care.ts';
import { knownAccustomed } from '../../stock/light/accustomed.rules.ts';
import { type LotLight, lotLights } from '../../stock/light/lot-light.ts';
import { type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { promisedSlots } from '../../stock/places/promised-slots.ts';
import { ASSUMED_PITCH_MM } from '../../stock/places/reach.rules.ts';
import type { PlacementProblem } from '../placement-solver/indexed-problem.rules.ts';
import type { PlanLot, PlanSlot } from '../placement-solver/slot-fit.rules.ts';
import type { PlacementRack } from '../placement-solver/unplaced-reason.rules.ts';

/** A rack with everything a plan says of it. */
export interface InputRack extends PlacementRack {
  tankId: string;
  tankName: string;
  systemId: string;
  systemName: string;
  quarantine: boolean;
  rows: number;
  columns: number;
  depthMm: number;
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
}

/** What a plan is worked out from: whole tanks, everybody who stands in them, and lots that stand nowhere. */
export interface PlacementInput extends PlacementProblem {
  racks: ReadonlyMap<string, InputRack>;
  /** Slots as the racks' pictures show them, in the order of `slots`. */
  standing: readonly SlotOccupancy[];
}

export interface PlacementScope {
  siteId: string;
  /** Racks that may be used; all slots on them are open, but for those promised to somebody. */
  useRackIds: readonly string[];
  /** A rack that is to be emptied. */
  emptyRackId: string | null;
  /** Lots that are placed though they may stand in other tanks, or nowhere. */
  lotIds: readonly string[];
}

const racksQuery = `
  SELECT rack.id, rack.name, rack.rows, rack.columns, rack.depth_mm AS "depthMm", rack.left_mm AS "leftMm", rack.back_mm AS "backMm",
         rack.slot_width_mm AS "slotWidthMm", rack.slot_depth_mm AS "slotDepthMm",
         tank.id AS "tankId", tank.name AS "tankName", tank.quarantine, system.id AS "systemId", system.name AS "systemName",
         lamp.name AS "lampName",
         (SELECT percent FROM lamp_setting WHERE lamp_id = lamp.id AND at <= $4 ORDER BY at DESC LIMIT 1) AS "lampPercent"
    FROM rack
    JOIN tank ON tank.id = rack.tank_id
    JOIN system ON system.id = tank.system_id
    LEFT JOIN lamp ON lamp.id = rack.lamp_id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
     AND tank.id IN (SELECT tank_id FROM rack WHERE id = ANY($2::uuid[])
                     UNION SELECT tank_id FROM lot_place WHERE lot_id = ANY($3::uuid[]))
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`;

const lotsQuery = `
  SELECT lot.id, lot.code, lot.kind_id AS "kindId", kind.name AS kind, lot.size_mm AS "sizeMm", lot.stays_put AS "staysPut",
         CASE WHEN lot.quarantine_until IS NULL THEN coalesce(place.quarantine, false)
              ELSE lot.quarantine_until >= $3::date END AS quarantine,
         coalesce(place.slots, '{}') AS "slotIds",
         (SELECT acclimation.name FROM acclimation_lot JOIN acclimation ON acclimation.id = acclimation_lot.acclimation_id
           WHERE acclimation_lot.lot_id = lot.id AND acclimation_lot.ended_at IS NULL LIMIT 1) AS acclimation,
         (SELECT move_plan.name FROM planned_move JOIN move_plan ON move_plan.id = planned_move.plan_id
           WHERE planned_move.lot_id = lot.id AND ${openInSql('planned_move')}
             AND move_plan.ended_at IS NULL LIMIT 1) AS "movePlan"
    FROM lot
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN (SELECT lot_id, array_agg(slot_id::text ORDER BY row, "column") AS slots, bool_or(tank.quarantine) AS quarantine
                 FROM lot_place JOIN tank ON tank.id = lot_place.tank_id GROUP BY lot_id) AS place ON place.lot_id = lot.id
   WHERE lot.pieces > 0 AND lot.site_id = $4 AND (lot.id = ANY($1::uuid[]) OR lot.id IN (SELECT lot_id FROM lot_place WHERE rack_id = ANY($2::uuid[])))
   ORDER BY lot.code`;

interface LotRow {
  id: string;
  code: string;
  kindId: string;
  kind: string;
  sizeMm: number | null;
  staysPut: boolean;
  quarantine: boolean;
  slotIds: string[];
  acclimation: string | null;
  movePlan: string | null;
}

/**
 * Everything a plan weighs: the whole tanks of the racks that are used or emptied and of the lots that are placed, with
 * whoever stands there. Lots are told as staying, with the reason where there is one; who takes part is decided
 * afterwards. Thirteen queries, however many lots.
 */
export async function readPlacementInput(
  reader: SqlReader,
  wish: PlacementScope,
  now: Date,
): Promise<PlacementInput> {
  const { siteId, useRackIds, emptyRackId, lotIds } = wish;
  const asked = emptyRackId === null ? useRackIds : [...useRackIds, emptyRackId];
  const { rows: racks } = await reader.query<InputRack>(racksQuery, [siteId, asked, lotIds, now]);
  const rackIds = racks.map(({ id }) => id);
  const today = now.toISOString().slice(0, 10);
  const [unsorted, lots, promised] = await Promise.all([
    slotOccupancy(reader, rackIds, now),
    reader.query<LotRow>(lotsQuery, [lotIds, rackIds, today, siteId]),
    promisedSlots(reader),
  ]);
  // As one walks: racks in the order of the halls and tanks.
  const order = new Map(rackIds.map((id, i) => [id, i]));
  const standing = unsorted.sort((a, b) => (order.get(a.rackId) ?? 0) - (order.get(b.rackId) ?? 0));
  const ids = lots.rows.map(({ id }) => id);
  const care = await lotCare(reader, { lotIds: ids });
  const lights = await lotLights(reader, ids, care, now);
  const known = new Map(racks.map((rack) => [rack.id, rack]));
  const use = new Set(useRackIds);
  const slots = standing.map((slot) => {
    const rack = known.get(slot.rackId) as InputRack;
    const emptied = rack.id === emptyRackId;
    return slotOf(slot, rack, { open: use.has(rack.id) && !emptied && !promised.has(slot.id), emptied });
  });
  return {
    racks: known,
    standing,
    slots,
    lots: lots.rows.map((row) => lotOf(row, care.get(row.id) ?? {}, lights.get(row.id) ?? null, now)),
  };
}

function slotOf(slot: SlotOccupancy, rack: InputRack, use: { open: boolean; emptied: boolean }): PlanSlot {
  const { id, rackId, row, column, light, flow, jet, base } = slot;
  const [width, depth] = [rack.slotWidthMm ?? ASSUMED_PITCH_MM, rack.slotDepthMm ?? ASSUMED_PITCH_MM];
  const hung = rack.leftMm !== null && rack.backMm !== null;
  return {
    id,
    rackId,
    systemId: rack.systemId,
    row,
    column,
    light: light && { ...light, dli: light.dli ?? dailyLightMolM2(light.par, fullLightHours(ASSUMED_HOURS)) },
    flow: flowLevel(flow),
    jet,
    base,
    quarantine: rack.quarantine,
    widthMm: rack.slotWidthMm,
    depthMm: rack.slotDepthMm,
    // Racks that are known to hang in one tank can be measured against each other; others only within themselves.
    frame: hung ? rack.tankId : rack.id,
    x: (hung ? (rack.leftMm as number) : 0) + (column - 0.5) * width,
    y: (hung ? (rack.backMm as number) : 0) + (row - 0.5) * depth,
    z: hung ? rack.depthMm : 0,
    ...use,
  };
}

function lotOf(row: LotRow, care: Care, light: LotLight | null, now: Date): PlanLot {
  const { id, code, kindId, kind, sizeMm, quarantine, slotIds } = row;
  const adaptationDays = care.adaptation_days?.high ?? null;
  return {
    ...{ id, code, kindId, kind, sizeMm, quarantine, slotIds },
    care: {
      accustomed: light?.accustomed ?? null,
      isAccustomed: light !== null && knownAccustomed(light, adaptationDays, now) !== null,
      adaptationDays,
      stepRatio: care.step_ratio?.high ?? null,
      parLow: care.par_range?.low ?? null,
      parHigh: care.par_range?.high ?? null,
      parCeiling: care.par_ceiling?.high ?? null,
      flowLow: care.flow?.low ?? null,
      flowHigh: care.flow?.high ?? null,
      jet: care.jet?.words ?? null,
      base: care.base?.words ?? null,
      reachMm: care.reach_mm?.high ?? null,
    },
    role: 'stays',
    staysWhy: staysWhy(row),
  };
}

function staysWhy({ staysPut, acclimation, movePlan }: LotRow): string {
  if (staysPut) return 'It is marked to stay in its place.';
  if (acclimation !== null) return `It is being acclimated: ${acclimation}.`;
  return movePlan === null ? '' : `It is in another plan of moves: ${movePlan}.`;
}
