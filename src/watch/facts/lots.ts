import type pg from 'pg';
import type { Base, Flow } from '../../generated/prisma/enums.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { careOf } from '../../stock/kinds/care.ts';
import type { Exposure } from '../../stock/light/exposure.ts';
import { lightHistories } from '../../stock/light/inherited-light.ts';
import { before, longestDays, type Span } from '../../water/record/span.ts';
import { sqlMs, timeOf } from '../../water/record/times.ts';
import { loadAcclimations } from './acclimations.ts';
import { placeCare } from './place-care.ts';
import {
  type CellFact,
  type ConditionFact,
  type LampFact,
  type LightFact,
  type LotFact,
  unknownCare,
} from './types.ts';

interface LotRow {
  id: string;
  systemId: string;
  code: string;
  ownName: string;
  pieces: number;
  kindId: string;
  parentId: string | null;
  sizeMm: number | null;
  rackId: string;
  racks: number;
  rackName: string;
  slotNames: string;
  /** "1:4 1:5" */
  cells: string;
  slots: number;
  placementId: string;
  /** Milliseconds since 1970. */
  placedAt: number;
  lampId: string | null;
  flow: Flow | null;
  jet: boolean;
  base: Base;
  depthMm: number;
  /** Milliseconds since 1970. */
  cutAt: number | null;
}

// A lot stands in one system; where its slots lie on several racks, the first one names the place. A slot holds one lot
// at a time: asking each for its first placement in order has the index of those that last used, not that of all times.
const lotQuery = `
  WITH stood AS (
    SELECT held.placement_id, tank.system_id, rack.id AS rack_id, rack.name AS rack_name, rack.lamp_id, rack.depth_mm,
           slot.row, slot."column", chr(64 + slot.row) || slot."column" AS slot_name, slot.flow::text AS flow, slot.jet, slot.base::text AS base
      FROM tank
      JOIN rack ON rack.tank_id = tank.id
      JOIN slot ON slot.rack_id = rack.id
     CROSS JOIN LATERAL (
       SELECT placement_id FROM placement_slot WHERE placement_slot.slot_id = slot.id AND placement_slot.to_at IS NULL
        ORDER BY placement_id LIMIT 1) AS held
     WHERE tank.system_id = ANY($1)
  ), placed AS (
    SELECT placement_id, min(system_id::text)::uuid AS system_id, count(DISTINCT rack_id)::int AS racks, count(*)::int AS slots,
           bool_or(jet) AS jet,
           array_agg(rack_id ORDER BY rack_id, row, "column") AS rack_ids,
           string_agg(row || ':' || "column", ' ' ORDER BY rack_id, row, "column") AS cells,
           (array_agg(rack_name ORDER BY rack_id, row, "column"))[1] AS rack_name,
           string_agg(slot_name, ' ' ORDER BY rack_id, row, "column") AS slot_names,
           (array_agg(lamp_id ORDER BY rack_id, row, "column"))[1] AS lamp_id,
           (array_agg(flow ORDER BY rack_id, row, "column"))[1] AS flow,
           (array_agg(base ORDER BY rack_id, row, "column"))[1] AS base,
           (array_agg(depth_mm ORDER BY rack_id, row, "column"))[1] AS depth_mm
      FROM stood GROUP BY placement_id)
  SELECT lot.id, placed.system_id AS "systemId", lot.code, coalesce(nullif(lot.own_code, ''), lot.trade_name) AS "ownName",
         lot.pieces, lot.kind_id AS "kindId",
         lot.parent_id AS "parentId", lot.size_mm AS "sizeMm", racks, rack_ids[1] AS "rackId", cells, rack_name AS "rackName",
         slot_names AS "slotNames", slots, placed.lamp_id AS "lampId", placed.flow, placed.jet, placed.base,
         placed.depth_mm AS "depthMm", placement.id AS "placementId",
         ${sqlMs('placed_since(placement)', '"placedAt"')},
         ${sqlMs('(SELECT max(cut.at) FROM cut WHERE cut.from_lot_id = lot.id OR cut.into_lot_id = lot.id)', '"cutAt"')}
    FROM placed
    JOIN placement ON placement.id = placed.placement_id AND placement.to_at IS NULL
    JOIN lot ON lot.id = placement.lot_id AND lot.pieces > 0
   ORDER BY lot.code`;

const conditionQuery = `
  SELECT id, lot_id AS "lotId", ${sqlMs('at')}, state::text AS state, grade, compared::text AS compared, note FROM condition
   WHERE lot_id = ANY($1) AND voided_at IS NULL AND at > $2 AND at <= $3 AND state <> 'lost'
   ORDER BY at DESC, created_at DESC, id DESC`;

// A rack passed as well counts as a look at a lot that was well before; only the last such pass before a lot was first
// seen unwell says something that its own looks do not.
const passQuery = `
  WITH noted AS (
    SELECT lot_id, at, state, lag(state) OVER looks AS before, lag(at) OVER looks AS "beforeAt" FROM condition
     WHERE lot_id = ANY($1) AND voided_at IS NULL AND at > $2 AND at <= $3 AND state <> 'lost'
    WINDOW looks AS (PARTITION BY lot_id ORDER BY at, created_at, id))
  SELECT passed.entry_id AS id, noted.lot_id AS "lotId", ${sqlMs('passed.at')}, 'well' AS state, NULL::int AS grade, NULL::text AS compared,
         'its rack was passed as well on a round' AS note
    FROM noted CROSS JOIN LATERAL (
      SELECT entry_id, at FROM lot_passed
       WHERE lot_passed.lot_id = noted.lot_id AND lot_passed.at < noted.at
         AND lot_passed.at > greatest(noted."beforeAt", $2)
       ORDER BY at DESC LIMIT 1) AS passed
   WHERE noted.state <> 'well' AND coalesce(noted.before, 'well') = 'well'`;

/** Light older than this no longer counts in what a lot is accustomed to. */
const lightDays = 240;

const kindQuery = `SELECT id, name, array_remove(ARRAY[id, parent_id], NULL) AS ids FROM kind`;

interface KindRow {
  id: string;
  name: string;
  ids: string[];
}

type LookRow = Omit<ConditionFact, 'at' | 'day'> & { lotId: string; ms: number };

/** The living lots that stand in the systems, by system, with their light, care and looks. Twelve queries in all. */
export async function loadLots(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LotFact[]>> {
  const { rows } = await pool.query<LotRow>(lotQuery, [systemIds]);
  const lotIds = rows.map((row) => row.id);
  const [kinds, lines, care, conditions, passes, acclimations] = await Promise.all([
    pool.query<KindRow>(kindQuery),
    lightHistories(pool, lotIds, span.now, before(span, lightDays)),
    careOf(pool, rows),
    pool.query<LookRow>(conditionQuery, [lotIds, before(span, longestDays), span.now]),
    pool.query<LookRow>(passQuery, [lotIds, before(span, longestDays), span.now]),
    loadAcclimations(pool, rows, span),
  ]);
  const kindOf = new Map(kinds.rows.map((kind) => [kind.id, kind]));
  const looks = Map.groupBy([...conditions.rows, ...passes.rows], (row) => row.lotId);
  const careFacts = new Map([...new Set(care.values())].map((one) => [one, placeCare(one)]));
  const careOfLot = (lotId: string) => {
    const known = care.get(lotId);
    return (known === undefined ? undefined : careFacts.get(known)) ?? unknownCare;
  };
  const factOf = (row: LotRow): LotFact => ({
    ...lotPlace(row),
    ...kindFact(kindOf.get(row.kindId)),
    light: (lines.get(row.id) ?? []).map(lightFact),
    care: careOfLot(row.id),
    conditions: (looks.get(row.id) ?? []).sort((a, b) => b.ms - a.ms).map(conditionFact),
    acclimation: acclimations.get(row.id) ?? null,
  });
  const grouped = Map.groupBy(rows, (row) => row.systemId);
  return new Map([...grouped].map(([id, list]) => [id, list.map(factOf)]));
}

const kindFact = (kind: KindRow | undefined) => ({ kindName: kind?.name ?? '', kindIds: kind?.ids ?? [] });

function lotPlace(row: LotRow) {
  const { systemId: _, kindId: __, racks, rackName, slotNames, slots, cells, placedAt, cutAt, ...kept } = row;
  const names = slots > 3 ? `${slotNames.split(' ').slice(0, 3).join(' ')} …` : slotNames;
  const { at, day } = timeOf(placedAt);
  return {
    ...kept,
    place: `${rackName}, ${names}`,
    placedAt: at,
    placedDay: day,
    cutDay: cutAt === null ? null : timeOf(cutAt).day,
    cells: cellsOf(racks === 1 ? cells : (cells.split(' ')[0] ?? '')),
  };
}

function cellsOf(text: string): CellFact[] {
  return text.split(' ').map((cell) => {
    const colon = cell.indexOf(':');
    return { row: Number(cell.slice(0, colon)), column: Number(cell.slice(colon + 1)) };
  });
}

function conditionFact({ id, ms, state, grade, compared, note }: LookRow): ConditionFact {
  const { at, day } = timeOf(ms);
  return { id, at, day, state, grade, compared, note };
}

function lightFact({ from, par, dli, error, estimated }: Exposure): LightFact {
  return { fromDay: dayOf(from), par, dli, error, estimated };
}

interface LampRow {
  id: string;
  name: string;
  tankName: string;
  systemId: string;
  settings: { id: string; at: string; percent: number; note: string }[];
}

const lampQuery = `
  SELECT lamp.id, lamp.name, tank.name AS "tankName", tank.system_id AS "systemId",
         coalesce(json_agg(json_build_object('id', lamp_setting.id, 'at', lamp_setting.at, 'percent', lamp_setting.percent,
                           'note', lamp_setting.note) ORDER BY lamp_setting.at) FILTER (WHERE lamp_setting.id IS NOT NULL), '[]') AS settings
    FROM lamp
    JOIN tank ON tank.id = lamp.tank_id
    LEFT JOIN lamp_setting ON lamp_setting.lamp_id = lamp.id AND lamp_setting.at <= $2
   WHERE tank.system_id = ANY($1)
   GROUP BY lamp.id, tank.id ORDER BY lamp.id`;

/** The lamps above the systems' tanks with their settings, oldest first, by system. */
export async function loadLamps(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LampFact[]>> {
  const { rows } = await pool.query<LampRow>(lampQuery, [systemIds, span.now]);
  const groupBySystem = Map.groupBy(rows, (row) => row.systemId);
  return new Map([...groupBySystem].map(([id, list]) => [id, list.map(lampFact)]));
}

function lampFact({ id, name, tankName, settings }: LampRow): LampFact {
  const withTime = settings.map((setting) => {
    const at = new Date(setting.at);
    return { ...setting, at: at.toISOString(), day: dayOf(at) };
  });
  return { id, name, tankName, settings: withTime };
}
