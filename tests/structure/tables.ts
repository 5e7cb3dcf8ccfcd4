/** Which area owns each table and view: the area alone writes it; areas on the floors above may read it. */
export const owners: Record<string, readonly string[]> = {
  platform: [
    'fact_mark',
    'journal_line',
    'kept_form',
    'request_key',
    'secret',
    'session',
    'undoable_change',
    'undoable_row',
    'wrong_try',
  ],
  people: ['access_key', 'account', 'account_link', 'site_person', 'tablet', 'tablet_person'],
  backups: ['backup'],
  farm: [
    'contact',
    'circuit',
    'equipment',
    'fault',
    'lamp',
    'lamp_setting',
    'light_survey',
    'light_survey_point',
    'look',
    'off_time',
    'quantity',
    'rack',
    'rack_light_now',
    'rack_stand',
    'room',
    'site',
    'slot',
    'slot_light',
    'slot_light_now',
    'switched_off',
    'system',
    'system_event',
    'tank',
    'tank_place',
    'upkeep',
    'container_level',
  ],
  stock: [
    'acclimation',
    'acclimation_lot',
    'acclimation_step',
    'attached_file',
    'care_figure',
    'condition',
    'cut',
    'delivery',
    'delivery_line',
    'healing_look',
    'hold',
    'identification',
    'kept_apart_reason',
    'kind',
    'ledger_entry',
    'lot',
    'lot_face',
    'lot_look',
    'lot_passed',
    'lot_place',
    'lot_water',
    'note_refused',
    'order_line',
    'order_stage_change',
    'permit_line',
    'pest_look',
    'pest_sighting',
    'pest_treatment',
    'pest_treatment_lot',
    'pest_watch',
    'photo',
    'placement',
    'placement_slot',
    'quarantine',
    'rack_passed',
    'rack_photograph',
    'rack_photograph_keeping',
    'rack_photograph_lot',
    'sale',
    'sales_order',
    'shipment',
    'size_measurement',
    'stocktake',
    'stocktake_count',
    'stocktake_line',
    'stocktake_rack',
    'stocktake_routine',
  ],
  racks: ['move_plan', 'planned_move'],
  water: [
    'check_reading',
    'correction',
    'correction_step',
    'dose',
    'doser_calibration',
    'doser_plan',
    'feeding',
    'kit',
    'kit_pair',
    'method',
    'probe_doubt',
    'reading',
    'reading_origin',
    'reading_pack',
    'reading_rollup',
    'reading_unrolled',
    'reading_with_vote',
    'routine',
    'system_quantity',
    'water_change',
  ],
  alerts: ['alert', 'alert_event', 'lot_alert', 'open_alert', 'system_watch', 'water_trouble'],
  watch: ['affected_scan', 'limit_trial', 'rule_setting'],
  emergencies: ['emergency', 'emergency_entry', 'emergency_system'],
  intake: [
    'import',
    'lot_name',
    'mqtt_connection',
    'mqtt_heard',
    'mqtt_message',
    'mqtt_told',
    'mqtt_topic',
    'mqtt_unread',
    'probe_day',
    'probe_waiting',
    'probe_name',
    'webhook',
    'webhook_delivery',
  ],
  rounds: [
    'calendar_feed',
    'not_for_us',
    'round',
    'round_entry',
    'round_plan',
    'round_plan_day',
    'round_plan_tank',
  ],
  tags: ['label_sheet', 'site_mark', 'tag', 'tag_key'],
  digest: ['digest', 'digest_receiver', 'letter'],
};

/** Tables that belong to nobody: PostgreSQL's own catalogue and the job queue's. */
export const foreign = /^(pg_|information_schema|pgboss|_prisma)/;

/** The area that owns a table; undefined for one that nobody named. */
export function ownerOf(table: string): string | undefined {
  return Object.keys(owners).find((area) => owners[area]?.includes(table));
}

/** Uses that run the wrong way and stay, each as the check says it, with the reason. */
export const exceptions: Readonly<Record<string, string>> = {
  'src/backups/contents.ts: names ¿, which has no owner in tables.ts':
    'A backup copies every table there is, by the names that the catalogue gives.',
  'src/backups/contents.ts: names STDIN, which has no owner in tables.ts':
    'COPY ... FROM STDIN, for the same.',
  'src/backups/load.ts: names a table that only shows when it runs: write the name into the text':
    'A restore fills every table of the archive, by name.',
  'src/backups/rules-aside.ts: names a table that only shows when it runs: write the name into the text':
    'Keys and triggers of every table are set aside while rows come in, by the names that the catalogue gives.',
  'src/exports/farm/tables.ts: names a table that only shows when it runs: write the name into the text':
    'The archive of a farm holds every table of it, by the names that the catalogue gives.',
  'src/exports/farm/tables.ts: names ¿, which has no owner in tables.ts': 'As above.',
  'src/exports/farm/tables.ts: names STDIN, which has no owner in tables.ts': 'COPY ... FROM STDIN.',
  'src/exports/farm/load.ts: names a table that only shows when it runs: write the name into the text':
    'A farm that is brought in fills every table, by name.',
  "src/exports/farm/load.ts: writes account, which is people's":
    'The owner who brings a farm in is put among its people, in the transaction that brings it in.',
  "src/exports/farm/load.ts: writes journal_line, which is platform's":
    'The line that says so is part of the same transaction, which the tables of the farm leave no other way into.',
  'src/exports/lists/sql-list.ts: names listed, which has no owner in tables.ts': 'The name of a cursor.',
  "src/stock/places/promised-slots.ts: reads planned_move, which is racks's":
    'A free slot that a plan of moves has promised is not free; the reservation is one query with those of acclimations.',
  "src/stock/places/promised-slots.ts: reads move_plan, which is racks's":
    'As above: whether the plan that promised the slot still runs.',
  "src/stock/places/site-moves.ts: reads planned_move, which is racks's":
    'A lot that a plan of moves has promised a place stays at its site; asked with holds and acclimations in one query.',
  "src/stock/places/site-moves.ts: reads move_plan, which is racks's":
    'As above: whether the plan still runs.',
  "src/water/log/feeding-check.ts: reads emergency, which is emergencies's":
    'While an emergency is open in a water nothing is fed there; asked with its alerts in one query.',
  "src/water/log/feeding-check.ts: reads emergency_system, which is emergencies's":
    'As above: in which waters.',
  "the view water_trouble: reads emergency, which is emergencies's":
    'A trouble that somebody reported is one of its water as an alert is; joined in the database, so that all readers agree.',
  "the view water_trouble: reads emergency_system, which is emergencies's": 'As above: in which waters.',
  "the view note_refused: reads round_entry, which is rounds's":
    'A note of a lot that was not taken: until it is put right nothing says that the lot is well.',
  "the view lot_passed: reads round_entry, which is rounds's":
    'As above: every such round, for what was known before a lot was first seen unwell.',
  "the view rack_passed: reads round_entry, which is rounds's": 'As below: the last pass of each rack.',
  "the view lot_look: reads round_entry, which is rounds's":
    'A rack passed as well on a round is a look at the lots on it; joined in the database, so that all readers agree.',
};
