import type { ExportedList } from './list.ts';
import { lotLists } from './lot-lists.ts';
import { orderLists } from './order-lists.ts';
import { slotList } from './slot-list.ts';
import { sqlList } from './sql-list.ts';

const reader = { access: 'reader' } as const;

/** Lots and what they stand on, are sold by and are known of. */
export const stockLists: ExportedList[] = [
  ...lotLists,
  slotList,
  sqlList(
    { ...reader, slug: 'racks', title: 'Racks', what: 'A rack: size, place, lamps, and what is on it.' },
    `WITH standing AS (
       SELECT rack_id, lot_id, count(*)::int AS slots FROM lot_place GROUP BY rack_id, lot_id),
     held AS (
       SELECT rack_id, count(*)::int AS lots, sum(lot.pieces)::int AS pieces, sum(slots)::int AS slots
         FROM standing JOIN lot ON lot.id = standing.lot_id GROUP BY rack_id)
     SELECT site.name AS site, system.name AS system, tank.name AS tank, rack.name AS rack, rack.rows, rack.columns,
            rack.depth_mm AS "depth (mm)", rack.slope_deg AS "slope (degrees)", rack.left_mm AS "from the left (mm)",
            rack.back_mm AS "from the back (mm)", rack.slot_width_mm AS "width of a slot (mm)",
            rack.slot_depth_mm AS "depth of a slot (mm)", lamp.name AS lamps, coalesce(held.lots, 0) AS lots,
            coalesce(held.pieces, 0) AS pieces, coalesce(held.slots, 0) AS "slots taken",
            rack.rows * rack.columns - coalesce(held.slots, 0) AS "slots free", light.measured_at AS "light measured at", rack.note
       FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN lamp ON lamp.id = rack.lamp_id LEFT JOIN held ON held.rack_id = rack.id
       LEFT JOIN rack_light_now AS light ON light.rack_id = rack.id
      WHERE site.id = $1
      ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'kinds',
      title: 'Kinds with their care',
      what: 'A figure of care of a kind, with where it comes from; a kind without figures has one row.',
    },
    `SELECT kind.code, kind.name AS kind, kind.rank, parent.name AS "care group", array_to_string(kind.also_called, '; ') AS "also called",
            figure.figure, figure.low, figure.high, figure.words, replace(figure.basis::text, '_', ' ') AS basis, figure.source, kind.note
       FROM kind LEFT JOIN kind AS parent ON parent.id = kind.parent_id LEFT JOIN care_figure AS figure ON figure.kind_id = kind.id
      ORDER BY coalesce(parent.name, kind.name), kind.rank, kind.name, figure.figure`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'origins',
      title: 'Suppliers and origins',
      what: 'Where lots came from, with their permit, and how many.',
    },
    `SELECT site.name AS site, lot.origin, lot.permit, count(*)::int AS lots, sum(lot.pieces)::int AS "pieces now",
            min(lot.arrived_at) AS "first received", max(lot.arrived_at) AS "last received"
       FROM lot JOIN site ON site.id = lot.site_id WHERE site.id = $1 AND (lot.origin <> '' OR lot.permit <> '')
      GROUP BY site.name, lot.origin, lot.permit ORDER BY lot.origin, lot.permit`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'holds',
      title: 'Holds',
      what: 'Pieces kept back for a buyer, and those released again.',
    },
    `SELECT site.name AS site, place.system, lot.code AS lot, lot.own_code AS "own code", hold.pieces, hold.buyer, hold.until::text AS until, hold.note,
            hold.created_at AS "held at", account.name AS "held by", hold.released_at AS "released at", hold.release_reason AS "why released"
       FROM hold JOIN lot ON lot.id = hold.lot_id JOIN site ON site.id = lot.site_id LEFT JOIN account ON account.id = hold.account_id
       LEFT JOIN LATERAL (SELECT min(system_name) AS system FROM lot_place WHERE lot_id = lot.id) AS place ON true
      WHERE site.id = $1 ORDER BY hold.created_at, hold.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'photograph-measures',
      title: 'Lots in photographs of racks',
      what: 'What one photograph of a rack measured of one lot; what was refused says why and counts nowhere.',
    },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, rack.name AS rack, shown.slots, taken.taken_at AS "taken at",
            shown.whiteness AS "whiteness (L*)", shown.whiteness_error AS "whiteness, standard error (L*)", shown.green_red AS "a*", shown.blue_yellow AS "b*",
            shown.area_mm2 AS "area (mm2)", shown.area_low_mm2 AS "area, low (mm2)", shown.area_high_mm2 AS "area, high (mm2)",
            taken.camera_mm IS NOT NULL AS "height taken out", shown.left_out AS "not measured because",
            shown.refused_at AS "refused at", shown.refuse_reason AS "why refused", refuser.name AS "refused by", shown.id::text AS "id"
       FROM rack_photograph_lot AS shown JOIN rack_photograph AS taken ON taken.id = shown.photograph_id
       JOIN rack ON rack.id = taken.rack_id JOIN lot ON lot.id = shown.lot_id JOIN kind ON kind.id = lot.kind_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account AS refuser ON refuser.id = shown.refused_by_id
      WHERE lot.site_id = $1 AND taken.voided_at IS NULL ORDER BY taken.taken_at, shown.id`,
  ),
  ...orderLists,
  sqlList(
    {
      ...reader,
      slug: 'counts',
      title: 'Changes of counts',
      what: 'Pieces received, cut, lost or sold: the ledger of the lots.',
    },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", entry.at, entry.change, replace(entry.reason::text, '_', ' ') AS reason,
            replace(entry.cause::text, '_', ' ') AS cause, entry.note, account.name AS by, entry.created_at AS "entered at",
            entry.voided_at AS "voided at", entry.void_reason AS "why voided"
       FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = entry.account_id WHERE site.id = $1 ORDER BY entry.at, entry.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'deliveries',
      title: 'Deliveries',
      what: 'A lot of a delivery: ordered, invoiced, counted, and what arrived dead.',
    },
    `SELECT site.name AS site, delivery.supplier, delivery.came_at AS came, delivery.hours AS "hours under way", delivery.box_deg_c AS "box (degC)",
            delivery.box_salinity AS "salinity of the box", line.name AS "as listed", lot.code AS lot, kind.name AS kind, line.ordered, line.invoiced,
            line.counted, line.arrived_dead AS "arrived dead", line.light_known AS "light before", line.light_par AS "light before (umol/(m2 s))",
            delivery.claim_hours AS "claim within (h)", delivery.claimed_at AS "claimed at", delivery.claim_note AS claim, delivery.claim_result AS result,
            delivery.note, account.name AS "taken in by", delivery.voided_at AS "taken back at", delivery.void_reason AS "why taken back"
       FROM delivery JOIN site ON site.id = delivery.site_id JOIN delivery_line AS line ON line.delivery_id = delivery.id
       LEFT JOIN lot ON lot.id = line.lot_id LEFT JOIN kind ON kind.id = lot.kind_id LEFT JOIN account ON account.id = delivery.account_id
      WHERE site.id = $1 ORDER BY delivery.came_at, delivery.id, line.position`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'stocktakes',
      title: 'Stocktakes',
      what: 'A lot on a rack in a stocktake: counted, recorded, and what the difference was.',
    },
    `SELECT site.name AS site, taken.name AS stocktake, taken.started_at AS "begun at", taken.closed_at AS "closed at", system.name AS system, tank.name AS tank, rack.name AS rack,
            lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, line.found_as AS "found as", counted.pieces AS counted,
            CASE WHEN taken.closed_at IS NULL AND taken.hidden AND line.settled_at IS NULL THEN NULL ELSE counted.expected END AS recorded,
            counted.at AS "counted at", account.name AS "counted by", counted.times AS "times counted", line.reason AS difference, line.note, settler.name AS "settled by", line.settled_at AS "settled at"
       FROM stocktake AS taken JOIN site ON site.id = taken.site_id JOIN stocktake_line AS line ON line.stocktake_id = taken.id
       JOIN rack ON rack.id = line.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
       LEFT JOIN lot ON lot.id = line.lot_id LEFT JOIN kind ON kind.id = lot.kind_id LEFT JOIN account AS settler ON settler.id = line.settled_by_id
       LEFT JOIN LATERAL (SELECT one.pieces, one.expected, one.at, one.account_id, count(*) OVER ()::int AS times FROM stocktake_count AS one
                           WHERE one.line_id = line.id AND one.voided_at IS NULL ORDER BY one.at DESC, one.id DESC LIMIT 1) AS counted ON true
       LEFT JOIN account ON account.id = counted.account_id
      WHERE site.id = $1 ORDER BY taken.started_at, taken.id, system.position, tank.position, rack.position, lot.code, line.id`,
  ),
  sqlList(
    { ...reader, slug: 'losses', title: 'Losses', what: 'Pieces lost, why, and where the lot was then.' },
    `SELECT site.name AS site, place.system, place.rack, lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, lot.origin, entry.at,
            -entry.change AS pieces, replace(coalesce(entry.cause, 'unknown')::text, '_', ' ') AS cause, entry.note, account.name AS by
       FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id JOIN site ON site.id = lot.site_id JOIN kind ON kind.id = lot.kind_id
       LEFT JOIN account ON account.id = entry.account_id
       LEFT JOIN LATERAL (
         SELECT min(system.name) AS system, min(rack.name) AS rack
           FROM placement JOIN placement_slot ON placement_slot.placement_id = placement.id JOIN slot ON slot.id = placement_slot.slot_id
           JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
          WHERE placement.lot_id = lot.id AND placement.from_at <= entry.at AND (placement.to_at IS NULL OR placement.to_at >= entry.at)
          GROUP BY placement.id, placement.from_at ORDER BY placement.from_at DESC LIMIT 1) AS place ON true
      WHERE site.id = $1 AND entry.reason = 'lost' AND entry.voided_at IS NULL ORDER BY entry.at, entry.id`,
  ),
  sqlList(
    { ...reader, slug: 'conditions', title: 'How lots looked', what: 'A look at a lot, and what was seen.' },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", seen.at, replace(seen.state::text, '_', ' ') AS seen, seen.grade,
            seen.note, account.name AS by, seen.voided_at AS "voided at", seen.void_reason AS "why voided"
       FROM condition AS seen JOIN lot ON lot.id = seen.lot_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = seen.account_id WHERE site.id = $1 ORDER BY seen.at, seen.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'placements',
      title: 'Where lots were',
      what: 'A lot at a place, from when to when.',
    },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, rack.name AS rack, lot.code AS lot, lot.own_code AS "own code",
            string_agg(chr(64 + slot.row) || slot."column", ' ' ORDER BY slot.row, slot."column") AS slots,
            placement.from_at AS from, placement.to_at AS until, placement.reason, account.name AS by
       FROM placement JOIN lot ON lot.id = placement.lot_id JOIN site ON site.id = lot.site_id
       JOIN placement_slot AS held ON held.placement_id = placement.id JOIN slot ON slot.id = held.slot_id
       JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
       LEFT JOIN account ON account.id = placement.account_id
      WHERE site.id = $1
      GROUP BY site.id, system.id, tank.id, rack.id, lot.id, placement.id, account.id ORDER BY placement.from_at, placement.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'acclimations',
      title: 'Plans of light',
      what: 'A step of a plan by which lots get used to other light.',
    },
    `SELECT site.name AS site, plan.name AS plan, plan.purpose, plan.from_dli AS "from (mol/(m2 d))", plan.target_dli AS "to (mol/(m2 d))",
            plan.starts_on::text AS "starts on", plan.paused_at AS "paused at", plan.ended_at AS "ended at", plan.end_reason AS "why ended",
            step.position AS step, step.due_on::text AS "due on", step.dli AS "light a day (mol/(m2 d))", lot.code AS lot, lamp.name AS lamps,
            step.percent AS "lamps (per cent)", step.done_at AS "done at", account.name AS "done by", step.left_out_at AS "left out at", step.note
       FROM acclimation AS plan JOIN site ON site.id = plan.site_id JOIN acclimation_step AS step ON step.acclimation_id = plan.id
       LEFT JOIN lot ON lot.id = step.lot_id LEFT JOIN lamp ON lamp.id = step.lamp_id LEFT JOIN account ON account.id = step.done_by_id
      WHERE site.id = $1 ORDER BY plan.created_at, plan.id, step.position, step.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'moves',
      title: 'Plans of moves',
      what: 'A move of a plan: which lot, why, and whether it was done.',
    },
    `SELECT site.name AS site, plan.name AS plan, plan.created_at AS "planned at", plan.ended_at AS "ended at", move.position AS step, lot.code AS lot,
            lot.own_code AS "own code", target.place, move.why, move.done_at AS "done at", account.name AS "done by",
            move.left_out_at AS "left out at", move.note
       FROM move_plan AS plan JOIN site ON site.id = plan.site_id JOIN planned_move AS move ON move.plan_id = plan.id
       JOIN lot ON lot.id = move.lot_id LEFT JOIN account ON account.id = move.done_by_id
       LEFT JOIN LATERAL (
         SELECT string_agg(rack.name || ' ' || chr(64 + slot.row) || slot."column", ', ' ORDER BY slot.row, slot."column") AS place
           FROM slot JOIN rack ON rack.id = slot.rack_id WHERE slot.id = ANY (move.slot_ids)) AS target ON true
      WHERE site.id = $1 ORDER BY plan.created_at, plan.id, move.position`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'photos',
      title: 'Photographs',
      what: 'A photograph of a lot; the pictures are in the whole farm.',
    },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", photo.id AS photo, photo.taken_at AS "taken at",
            photo.width AS "width (pixels)", photo.height AS "height (pixels)", photo.note, account.name AS by,
            photo.voided_at AS "voided at", photo.void_reason AS "why voided"
       FROM photo JOIN lot ON lot.id = photo.lot_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = photo.account_id WHERE site.id = $1 ORDER BY photo.taken_at, photo.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'files',
      title: 'Attached files',
      what: 'A permit, invoice or certificate, and what it is kept with.',
    },
    `SELECT site.name AS site, system.name AS system, equipment.name AS equipment, delivery.supplier AS "delivery from", lot.code AS lot, lot.own_code AS "own code",
            file.id AS file, file.name, file.what, file.kind AS "media type", file.bytes AS "size (bytes)", file.created_at AS "attached at",
            account.name AS by, file.voided_at AS "removed at", file.void_reason AS "why removed"
       FROM attached_file AS file LEFT JOIN delivery ON delivery.id = file.delivery_id LEFT JOIN lot ON lot.id = file.lot_id LEFT JOIN equipment ON equipment.id = file.equipment_id
       LEFT JOIN system ON system.id = coalesce(file.system_id, equipment.system_id)
       JOIN site ON site.id = coalesce(lot.site_id, system.site_id, delivery.site_id) LEFT JOIN account ON account.id = file.account_id
      WHERE site.id = $1 ORDER BY file.created_at, file.id`,
  ),
];
