import type { LightEstimate } from '../../farm/light/slot-light.rules.ts';
import { slotLightAt } from '../../farm/light/slot-light.ts';
import { type Cell, slotName } from '../../farm/racks/slots.rules.ts';
import type { Base, ConditionState, Flow, Severity } from '../../generated/prisma/enums.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** The most urgent open alert of a lot. */
export interface OccupantAlert {
  id: string;
  rule: string;
  severity: Severity;
  title: string;
}

/** How a lot looked last: noted by itself, or passed as well with its rack. */
export interface LastLook {
  state: ConditionState;
  grade: number | null;
  at: Date;
}

/** The lot that stands in a slot. */
export interface SlotOccupant {
  id: string;
  code: string;
  /** The farm's own code; "" where it has none. */
  ownCode: string;
  kind: string;
  pieces: number;
  alert: OccupantAlert | null;
  look: LastLook | null;
  inSlotSince: Date;
  /** Its cut, else its arrival. */
  onFarmSince: Date;
}

/** The light of a slot as it is now. */
export interface SlotLightNow {
  /** umol/(m2 s) at full light, with its standard error; daily in mol/(m2 d), null without known hours. */
  par: number;
  error: number;
  dli: number | null;
  measured: boolean;
  estimated: boolean;
}

/** One slot as it is now. */
export interface SlotOccupancy extends Cell {
  id: string;
  rackId: string;
  name: string;
  /** Null: nobody has said. */
  flow: Flow | null;
  jet: boolean;
  base: Base;
  light: SlotLightNow | null;
  lot: SlotOccupant | null;
}

interface Row extends Omit<SlotOccupancy, 'name' | 'light' | 'lot'> {
  lotId: string | null;
  code: string | null;
  ownCode: string | null;
  pieces: number | null;
  kind: string | null;
  inSlotSince: Date | null;
  onFarmSince: Date | null;
  alert: OccupantAlert | null;
  state: ConditionState | null;
  grade: number | null;
  lookedAt: Date | null;
}

// Alerts and looks are asked for once, for the list of lots that stand there: joined as views, they would be worked out again
// for every slot or for the whole farm. Fenced in (MATERIALIZED), their few tables are planned apart, which is much quicker.
const query = `
  WITH here AS MATERIALIZED (
    SELECT rack.position, rack.name AS rack_name, slot.id, slot.rack_id, slot.row, slot."column", slot.flow, slot.jet, slot.base,
           placement.lot_id, CASE WHEN placement.id IS NOT NULL THEN placed_since(placement) END AS since
      FROM rack
      JOIN slot ON slot.rack_id = rack.id AND slot.row <= rack.rows AND slot."column" <= rack.columns
      LEFT JOIN placement_slot ON placement_slot.slot_id = slot.id AND placement_slot.to_at IS NULL
      LEFT JOIN placement ON placement.id = placement_slot.placement_id
     WHERE rack.id = ANY($1::uuid[])),
  alert AS MATERIALIZED (
    SELECT DISTINCT ON (lot_id) lot_id, json_build_object('id', id, 'rule', rule, 'severity', severity, 'title', title) AS alert
      FROM lot_alert
     WHERE (put_off_until IS NULL OR put_off_until <= $2) AND lot_id = ANY(ARRAY(SELECT lot_id FROM here))
     ORDER BY lot_id, severity, opened_at),
  look AS MATERIALIZED (SELECT * FROM lot_look WHERE lot_id = ANY(ARRAY(SELECT lot_id FROM here))),
  lot AS MATERIALIZED (
    SELECT lot.id, lot.code, lot.own_code, lot.pieces, kind.name AS kind,
           coalesce((SELECT at FROM cut WHERE into_lot_id = lot.id), lot.arrived_at) AS on_farm_since
      FROM lot JOIN kind ON kind.id = lot.kind_id WHERE lot.id = ANY(ARRAY(SELECT lot_id FROM here)))
  SELECT here.id, here.rack_id AS "rackId", here.row, here."column", here.flow, here.jet, here.base,
         lot.id AS "lotId", lot.code, lot.own_code AS "ownCode", lot.pieces, lot.kind, here.since AS "inSlotSince",
         lot.on_farm_since AS "onFarmSince", alert.alert, look.state, look.grade, look.at AS "lookedAt"
    FROM here
    LEFT JOIN lot ON lot.id = here.lot_id
    LEFT JOIN alert ON alert.lot_id = here.lot_id
    LEFT JOIN look ON look.lot_id = here.lot_id
   ORDER BY here.position, here.rack_name, here.row, here."column"`;

function lightOf(light: LightEstimate | undefined): SlotLightNow | null {
  if (light === undefined) return null;
  const { par, error, dli, hoursKnown, measured, estimated } = light;
  return { par, error, dli: hoursKnown ? dli : null, measured, estimated: estimated && hoursKnown };
}

function lotOf(row: Row): SlotOccupant | null {
  const { lotId, code, ownCode, kind, pieces, alert, state, grade, lookedAt, inSlotSince, onFarmSince } = row;
  if (lotId === null || code === null || kind === null || inSlotSince === null || onFarmSince === null)
    return null;
  const look = state === null || lookedAt === null ? null : { state, grade, at: lookedAt };
  return {
    id: lotId,
    code,
    ownCode: ownCode ?? '',
    kind,
    pieces: pieces ?? 0,
    alert,
    look,
    inSlotSince,
    onFarmSince,
  };
}

/** Every slot of these racks as it is now: light, flow, its lot and that lot's most urgent open alert. Five queries. */
export async function slotOccupancy(
  reader: SqlReader,
  rackIds: readonly string[],
  now: Date,
): Promise<SlotOccupancy[]> {
  const { rows } = await reader.query<Row>(query, [rackIds, now]);
  const light = await slotLightAt(
    reader,
    rows.map(({ id }) => id),
    now,
  );
  return rows.map((row) => {
    const { id, rackId, row: gridRow, column, flow, jet, base } = row;
    const cell = { row: gridRow, column };
    return {
      id,
      rackId,
      ...cell,
      name: slotName(cell),
      flow,
      jet,
      base,
      light: lightOf(light.get(id)),
      lot: lotOf(row),
    };
  });
}

/** The lots in some slots, each once, with the slots it takes. */
export function occupantsOf(
  slots: readonly SlotOccupancy[],
): { lot: SlotOccupant; slots: SlotOccupancy[] }[] {
  const occupied = slots.filter((slot): slot is SlotOccupancy & { lot: SlotOccupant } => slot.lot !== null);
  return [...Map.groupBy(occupied, (slot) => slot.lot.id).values()].map((group) => ({
    lot: (group[0] as (typeof occupied)[number]).lot,
    slots: group,
  }));
}
