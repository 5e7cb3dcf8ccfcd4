import type { SiteThings } from './platform/web/site-bounds.ts';
import { readCode } from './stock/base/codes.ts';

/** What belongs to a system, as SQL. */
const ofSystems = `
  SELECT id, system_id FROM tank
  UNION ALL SELECT id, system_id FROM equipment
  UNION ALL SELECT id, system_id FROM switched_off
  UNION ALL SELECT id, system_id FROM fault
  UNION ALL SELECT id, system_id FROM system_event
  UNION ALL SELECT id, system_id FROM look
  UNION ALL SELECT id, system_id FROM pest_watch
  UNION ALL SELECT look.id, watch.system_id FROM pest_look AS look JOIN pest_watch AS watch ON watch.id = look.watch_id
  UNION ALL SELECT bath.id, watch.system_id FROM pest_treatment AS bath JOIN pest_watch AS watch ON watch.id = bath.watch_id
  UNION ALL SELECT id, system_id FROM reading
  UNION ALL SELECT id, system_id FROM water_change
  UNION ALL SELECT id, system_id FROM dose
  UNION ALL SELECT id, system_id FROM feeding
  UNION ALL SELECT id, system_id FROM correction
  UNION ALL SELECT step.id, plan.system_id FROM correction_step AS step JOIN correction AS plan ON plan.id = step.correction_id
  UNION ALL SELECT id, system_id FROM routine
  UNION ALL SELECT id, system_id FROM alert
  UNION ALL SELECT file.id, coalesce(file.system_id, equipment.system_id)
    FROM attached_file AS file LEFT JOIN equipment ON equipment.id = file.equipment_id
     WHERE file.lot_id IS NULL AND file.sales_order_id IS NULL AND file.delivery_id IS NULL
  UNION ALL SELECT plan.id, equipment.system_id FROM doser_plan AS plan JOIN equipment ON equipment.id = plan.equipment_id
  UNION ALL SELECT one.id, equipment.system_id FROM doser_calibration AS one JOIN equipment ON equipment.id = one.equipment_id
  UNION ALL SELECT upkeep.id, equipment.system_id FROM upkeep JOIN equipment ON equipment.id = upkeep.equipment_id
  UNION ALL SELECT lamp.id, tank.system_id FROM lamp JOIN tank ON tank.id = lamp.tank_id
  UNION ALL SELECT rack.id, tank.system_id FROM rack JOIN tank ON tank.id = rack.tank_id
  UNION ALL SELECT slot.id, tank.system_id FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
  UNION ALL SELECT survey.id, tank.system_id
    FROM light_survey AS survey JOIN rack ON rack.id = survey.rack_id JOIN tank ON tank.id = rack.tank_id
  UNION ALL SELECT taken.id, tank.system_id
    FROM rack_photograph AS taken JOIN rack ON rack.id = taken.rack_id JOIN tank ON tank.id = rack.tank_id
  UNION ALL SELECT setting.id, tank.system_id
    FROM lamp_setting AS setting JOIN lamp ON lamp.id = setting.lamp_id JOIN tank ON tank.id = lamp.tank_id`;

/** What belongs to a lot, as SQL. */
const ofLots = `
  SELECT id, lot_id FROM identification
  UNION ALL SELECT id, lot_id FROM ledger_entry
  UNION ALL SELECT id, lot_id FROM placement
  UNION ALL SELECT id, from_lot_id FROM cut
  UNION ALL SELECT look.id, cut.from_lot_id FROM healing_look AS look JOIN cut ON cut.id = look.cut_id
  UNION ALL SELECT id, lot_id FROM size_measurement
  UNION ALL SELECT id, lot_id FROM condition
  UNION ALL SELECT id, lot_id FROM planned_move
  UNION ALL SELECT id, lot_id FROM photo
  UNION ALL SELECT id, lot_id FROM rack_photograph_lot
  UNION ALL SELECT id, lot_id FROM hold
  UNION ALL SELECT id, lot_id FROM sale
  UNION ALL SELECT id, lot_id FROM order_line
  UNION ALL SELECT id, lot_id FROM attached_file WHERE lot_id IS NOT NULL
  UNION ALL SELECT id, lot_id FROM tag`;

/** What belongs to a site, as SQL. */
const ofSites = `
  SELECT id, site_id FROM system
  UNION ALL SELECT id, site_id FROM circuit
  UNION ALL SELECT upkeep.id, circuit.site_id FROM upkeep JOIN circuit ON circuit.id = upkeep.circuit_id
  UNION ALL SELECT id, site_id FROM import
  UNION ALL SELECT id, site_id FROM mqtt_topic
  UNION ALL SELECT id, site_id FROM webhook
  UNION ALL SELECT sent.id, hook.site_id FROM webhook_delivery AS sent JOIN webhook AS hook ON hook.id = sent.webhook_id
  UNION ALL SELECT id, site_id FROM limit_trial
  UNION ALL SELECT id, site_id FROM contact
  UNION ALL SELECT id, site_id FROM delivery
  UNION ALL SELECT line.id, delivery.site_id FROM delivery_line AS line JOIN delivery ON delivery.id = line.delivery_id
  UNION ALL SELECT id, site_id FROM stocktake
  UNION ALL SELECT line.id, taken.site_id FROM stocktake_line AS line JOIN stocktake AS taken ON taken.id = line.stocktake_id
  UNION ALL SELECT file.id, delivery.site_id FROM attached_file AS file JOIN delivery ON delivery.id = file.delivery_id
  UNION ALL SELECT id, site_id FROM room
  UNION ALL SELECT id, site_id FROM emergency
  UNION ALL SELECT entry.id, emergency.site_id
    FROM emergency_entry AS entry JOIN emergency ON emergency.id = entry.emergency_id
  UNION ALL SELECT id, site_id FROM round_plan
  UNION ALL SELECT round.id, plan.site_id FROM round JOIN round_plan AS plan ON plan.id = round.plan_id
  UNION ALL SELECT entry.id, plan.site_id
    FROM round_entry AS entry JOIN round ON round.id = entry.round_id JOIN round_plan AS plan ON plan.id = round.plan_id
  UNION ALL SELECT id, site_id FROM digest
  UNION ALL SELECT letter.id, digest.site_id FROM letter JOIN digest ON digest.id = letter.digest_id
  UNION ALL SELECT id, site_id FROM move_plan
  UNION ALL SELECT id, site_id FROM acclimation
  UNION ALL SELECT step.id, plan.site_id
    FROM acclimation_step AS step JOIN acclimation AS plan ON plan.id = step.acclimation_id
  UNION ALL SELECT id, site_id FROM lot
  UNION ALL SELECT id, site_id FROM sales_order
  UNION ALL SELECT line.id, sold.site_id FROM permit_line AS line JOIN sales_order AS sold ON sold.id = line.order_id
  UNION ALL SELECT file.id, sold.site_id FROM attached_file AS file JOIN sales_order AS sold ON sold.id = file.sales_order_id
  UNION ALL SELECT thing.id, lot.site_id FROM (${ofLots}) AS thing JOIN lot ON lot.id = thing.lot_id
  UNION ALL SELECT thing.id, system.site_id FROM (${ofSystems}) AS thing JOIN system ON system.id = thing.system_id`;

/**
 * Which site each thing belongs to. Kinds, methods, kits, people, keys and backups are the whole farm’s. A new table whose
 * rows have an address or stand in a form gets its line here.
 */
export const siteThings: SiteThings = {
  codeOf: (text) => {
    const read = readCode(text);
    return read.ok ? read.code : null;
  },
  elsewhere: `
    SELECT FROM (${ofSites}) AS thing WHERE id = ANY ($2::uuid[]) AND site_id <> $1::uuid
    UNION ALL SELECT FROM lot WHERE code = ANY ($3::text[]) AND site_id <> $1::uuid
    LIMIT 1`,
  oneElsewhere: `SELECT FROM (${ofSites}) AS thing WHERE id = $2::uuid AND site_id <> $1::uuid LIMIT 1`,
};
