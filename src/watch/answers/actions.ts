import type pg from 'pg';

/** What kind of thing somebody did that can answer an alert. */
export type ActionKind =
  | 'lamps'
  | 'move'
  | 'flow'
  | 'water change'
  | 'dose'
  | 'correction'
  | 'correction stopped'
  | 'routine'
  | 'switched off'
  | 'running'
  | 'mended'
  | 'serviced'
  | 'event'
  | 'kit opened'
  | 'kit put away'
  | 'check'
  | 'look'
  | 'said'
  | 'doser well'
  | 'doser righted'
  | 'doser wrong';

/**
 * Something somebody did. `subjectId`: the lamps, lot, rack, kit or alert it was done to; else the system. `amount` is what
 * the kind says: per cent the lamps stand at (`before`: stood at), litres of a water change, the rise that a dose brings.
 * `contents`: what the new water of a change held, where it was not the usual one, by quantity in its canonical unit; of a
 * doser what its solution raises, nothing where the books do not say it and the water has no other doser. What was found at a
 * doser that is not put right yet ('doser wrong') has as its name which of `doserFindings` it is.
 */
export interface Action {
  kind: ActionKind;
  at: Date;
  who: string | null;
  subjectId: string;
  quantityCode: string | null;
  name: string;
  amount: number | null;
  before: number | null;
  contents: Readonly<Record<string, number>> | null;
}

// Parts are in one statement, so that a system costs one query however many alerts are open in it.
const actionQuery = `
  WITH acted AS (
    SELECT 'lamps' AS kind, setting.at, setting.account_id, lamp.id AS subject_id, NULL AS quantity_code, lamp.name,
           setting.percent AS amount,
           (SELECT percent FROM lamp_setting AS old WHERE old.lamp_id = lamp.id AND old.at < setting.at ORDER BY old.at DESC LIMIT 1) AS before, NULL::jsonb AS contents
      FROM lamp_setting AS setting JOIN lamp ON lamp.id = setting.lamp_id JOIN tank ON tank.id = lamp.tank_id
     WHERE tank.system_id = $1 AND setting.at > $2
    UNION ALL
    SELECT DISTINCT ON (placement.id) 'move', placement.from_at, placement.account_id, placement.lot_id, NULL,
           coalesce(nullif(lot.own_code, '') || ' (' || lot.code || ')', nullif(lot.trade_name, '') || ' (' || lot.code || ')', lot.code) || ' moved to ' || rack.name || ', ' || chr(64 + slot.row) || slot."column", NULL::float, NULL::float, NULL
      FROM placement JOIN lot ON lot.id = placement.lot_id JOIN placement_slot ON placement_slot.placement_id = placement.id
      JOIN slot ON slot.id = placement_slot.slot_id JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
     WHERE tank.system_id = $1 AND placement.from_at > $2 AND NOT placement.stays
       AND EXISTS (SELECT 1 FROM placement AS old WHERE old.lot_id = placement.lot_id AND old.from_at < placement.from_at)
    UNION ALL
    SELECT 'water change', at, account_id, system_id, NULL, '', volume_l, NULL, make_up
      FROM water_change WHERE system_id = $1 AND at > $2 AND voided_at IS NULL
    UNION ALL
    SELECT 'dose', at, account_id, system_id, quantity_code, trim(to_char(amount, 'FM999990.99'), '.') || ' ' || unit || ' of ' || substance, effect, NULL, NULL
      FROM dose WHERE system_id = $1 AND at > $2 AND voided_at IS NULL AND access_key_id IS NULL AND doser_id IS NULL
    UNION ALL
    SELECT CASE journal_line.kind WHEN 'correction.planned' THEN 'correction' ELSE 'correction stopped' END, journal_line.at,
           journal_line.account_id, system_id, quantity_code, '', NULL, NULL, NULL
      FROM journal_line JOIN correction ON correction.id = journal_line.subject_id
     WHERE system_id = $1 AND journal_line.at > $2 AND journal_line.kind IN ('correction.planned', 'correction.stopped')
    UNION ALL
    SELECT 'routine', journal_line.at, journal_line.account_id, system_id, quantity_code,
           CASE journal_line.kind WHEN 'routine.planned' THEN 'set' ELSE 'ended' END || ' the routine: ' || replace(work, '_', ' '), NULL, NULL, NULL
      FROM journal_line JOIN routine ON routine.id = journal_line.subject_id
     WHERE system_id = $1 AND journal_line.at > $2 AND journal_line.kind IN ('routine.planned', 'routine.ended')
    UNION ALL
    SELECT 'flow', journal_line.at, journal_line.account_id, rack.id, NULL, rack.name, NULL, NULL, NULL
      FROM journal_line JOIN rack ON rack.id = journal_line.subject_id JOIN tank ON tank.id = rack.tank_id
     WHERE tank.system_id = $1 AND journal_line.at > $2 AND journal_line.kind IN ('slot_flow.changed', 'slot_base.changed')
    UNION ALL
    SELECT 'switched off', off_at, account_id, system_id, thing::text, what, NULL, NULL, NULL
      FROM switched_off WHERE system_id = $1 AND off_at > $2 AND voided_at IS NULL
    UNION ALL
    SELECT 'running', seen_running_at, seen_running_by_id, system_id, thing::text, what, NULL, NULL, NULL
      FROM switched_off WHERE system_id = $1 AND seen_running_at > $2 AND voided_at IS NULL
    UNION ALL
    SELECT 'running', seen_running_at, seen_running_by_id, system_id, kind::text, name, NULL, NULL, NULL
      FROM equipment WHERE system_id = $1 AND seen_running_at > $2
    UNION ALL
    SELECT CASE WHEN left_out IS NULL THEN 'mended' ELSE 'event' END, mended_at, mended_by_id, system_id, NULL, mended, NULL, NULL, NULL
      FROM fault WHERE system_id = $1 AND mended_at > $2
    UNION ALL
    SELECT 'serviced', upkeep.at, upkeep.account_id, equipment.system_id, equipment.kind::text, equipment.name, NULL, NULL,
           CASE WHEN equipment.strength_code IS NOT NULL THEN jsonb_build_object(equipment.strength_code, equipment.strength)
                WHEN NOT EXISTS (SELECT FROM equipment AS other WHERE other.system_id = $1 AND other.kind = equipment.kind AND other.id <> equipment.id AND other.removed_at IS NULL)
                THEN '{}'::jsonb END
      FROM upkeep JOIN equipment ON equipment.id = upkeep.equipment_id WHERE equipment.system_id = $1 AND upkeep.at > $2
    UNION ALL
    SELECT 'event', at, account_id, system_id, NULL, replace(kind::text, '_', ' '), NULL, NULL, NULL
      FROM system_event WHERE system_id = $1 AND at > $2 AND voided_at IS NULL AND kind NOT IN ('power_cut', 'mass_loss', 'stock_sold')
    UNION ALL
    SELECT 'kit opened', kit.opened_at, kit.account_id, kit.id, method.quantity_code, kit.label, NULL, NULL, NULL
      FROM kit JOIN method ON method.id = kit.method_id WHERE kit.opened_at > $2
    UNION ALL
    SELECT 'kit put away', journal_line.at, journal_line.account_id, kit.id, method.quantity_code, kit.label, NULL, NULL, NULL
      FROM journal_line JOIN kit ON kit.id = journal_line.subject_id JOIN method ON method.id = kit.method_id
     WHERE journal_line.kind = 'kit.retired' AND journal_line.at > $2
    UNION ALL
    SELECT 'check', check_reading.at, check_reading.account_id, kit.id, method.quantity_code, kit.label, NULL, NULL, NULL
      FROM check_reading JOIN kit ON kit.id = check_reading.kit_id JOIN method ON method.id = kit.method_id
     WHERE check_reading.at > $2 AND check_reading.voided_at IS NULL
    UNION ALL
    SELECT 'check', kit_pair.at, kit_pair.account_id, kit.id, method.quantity_code, kit.label, NULL, NULL, NULL
      FROM kit_pair JOIN kit ON kit.id = kit_pair.kit_id JOIN method ON method.id = kit.method_id
     WHERE kit_pair.at > $2 AND kit_pair.voided_at IS NULL
    UNION ALL
    SELECT 'look', lot_look.at, NULL, lot_look.lot_id, NULL, '', NULL, NULL, NULL
      FROM lot_look JOIN (SELECT DISTINCT lot_id FROM lot_place WHERE system_id = $1) AS here ON here.lot_id = lot_look.lot_id
     WHERE lot_look.at > $2
    UNION ALL
    SELECT coalesce('doser ' || (alert_event.detail ->> 'doser'), 'said'), alert_event.at, alert_event.account_id, alert_event.alert_id,
           alert_event.detail ->> 'code', alert_event.detail ->> CASE alert_event.detail ->> 'doser' WHEN 'wrong' THEN 'found' ELSE 'what' END, NULL, NULL, NULL
      FROM alert_event JOIN alert ON alert.id = alert_event.alert_id
     WHERE alert.system_id = $1 AND alert_event.at > $2 AND alert_event.kind = 'acted' AND alert_event.account_id IS NOT NULL
  )
  SELECT acted.kind, acted.at, account.name AS who, acted.subject_id AS "subjectId", acted.quantity_code AS "quantityCode",
         acted.name, acted.amount, acted.before, acted.contents
    FROM acted LEFT JOIN account ON account.id = acted.account_id
   WHERE acted.at <= $3 ORDER BY acted.at, acted.subject_id`;

/** What people did in a system after `since` and up to `now`, oldest first. One query. */
export async function actionsSince(
  pool: pg.Pool,
  ask: { systemId: string; since: Date; now: Date },
): Promise<Action[]> {
  return (await pool.query<Action>(actionQuery, [ask.systemId, ask.since, ask.now])).rows;
}
