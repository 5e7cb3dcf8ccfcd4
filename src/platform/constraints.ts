import { Refusal } from './refusal.ts';

/** What the database refuses, in words: one entry for each constraint that a person can run into, with its form field. */
export const constraintWords: Record<string, { message: string; field?: string }> = {
  promised_pieces_stay: {
    message:
      'Pieces of this lot are promised to buyers, and fewer would be left. Enter fewer, or let a hold go first.',
    field: 'pieces',
  },
  stocktake_stays_closed: { message: 'This stocktake is closed. Nothing can be changed in it any more.' },
  stocktake_one_open: { message: 'A stocktake is open at this site. Close it first.' },
  order_line_site: { message: 'This lot is at another site than the order. Take it off.' },
  ledger_not_below_zero: {
    message: 'That would take the count below zero. Look at how many pieces there are, then enter fewer.',
    field: 'pieces',
  },
  lot_pieces_not_negative: { message: 'That would take the count below zero.', field: 'pieces' },
  placement_lot_once: {
    message: 'The lot already has a place at that time. Choose a later time, or move it from there.',
    field: 'slot',
  },
  placement_slot_free: { message: 'That slot is taken at that time. Choose a free one.', field: 'slot' },
  placement_within_rack: {
    message: 'That slot is no longer part of the rack. Choose another one.',
    field: 'slot',
  },
  rack_keeps_lots: {
    message: 'Lots are where the rack would end. Move them first, or keep those rows and columns.',
    field: 'rows',
  },
  placement_order: { message: 'It cannot leave a slot before it came there. Check the time.', field: 'at' },
  webhook_once: {
    message: 'This address is told of events already. Open it to choose which.',
    field: 'address',
  },
  mqtt_topic_once: {
    message: 'This topic is listened to already. Remove it first to have it read otherwise.',
    field: 'filter',
  },
  account_email_key: { message: 'There is already an account with this address.', field: 'email' },
  account_last_owner: {
    message: 'The farm needs at least one owner. Make somebody else owner first.',
    field: 'role',
  },
  lot_own_code_once: {
    message: 'A lot with this own code is here already. Choose another code, or find that lot by it.',
    field: 'ownCode',
  },
  lot_tagged_stays: {
    message:
      'The file cannot be taken back any more: pieces of one of its lots were tagged. Change its lots by hand.',
  },
  lot_price_currency: {
    message: 'Choose the currency first, under Farm, The site. Prices are kept in it.',
    field: 'price',
  },
  site_currency_used: {
    message: 'Lots have prices in the currency that was chosen. Take their prices away first.',
    field: 'currency',
  },
  lot_code_key: { message: 'There is already a lot with this code.', field: 'code' },
  site_name_key: { message: 'There is already a site of this name.', field: 'name' },
  room_site_id_name_key: { message: 'There is already a room of this name.', field: 'name' },
  system_site_id_name_key: { message: 'There is already a system of this name.', field: 'name' },
  tank_water_watched: {
    message:
      'This tank is under watch for a pest by itself. Open it again and save once more, so that the watch goes along with its water.',
    field: 'ownWater',
  },
  tank_in_quarantine: {
    message: 'A quarantine runs in this tank. End it first.',
    field: 'quarantine',
  },
  tank_system_id_name_key: { message: 'This system already has a tank of this name.', field: 'name' },
  rack_tank_id_name_key: { message: 'This tank already has a rack of this name.', field: 'name' },
  lamp_tank_id_name_key: { message: 'This tank already has lamps of this name.', field: 'name' },
  circuit_site_id_name_key: { message: 'There is already a circuit of this name.', field: 'name' },
  switched_off_once: {
    message: 'This is noted as off already. Say there when it runs again.',
    field: 'pick',
  },
  lamp_setting_lamp_id_at_key: {
    message: 'These lamps already have a setting for that minute.',
    field: 'at',
  },
  kit_method_id_label_key: {
    message: 'There is already a kit of this name for this method.',
    field: 'label',
  },
  round_plan_site_id_name_key: { message: 'There is already a round of this name.', field: 'name' },
  reading_supersedes_id_key: {
    message: 'This reading has already been corrected. Open it again.',
    field: '',
  },
  reading_kept: { message: 'A reading is never changed. Correct it by entering the right one.', field: '' },
  correction_one_at_a_time: {
    message: 'A correction of this quantity already runs in this system. Stop or revise that one.',
    field: 'quantity',
  },
  correction_kept: { message: 'A planned correction is not changed. Stop or revise it.', field: '' },
  correction_step_kept: { message: 'This step was already done. Open the correction again.', field: '' },
  routine_one_test: {
    message: 'Tests of this quantity are already planned for this system. Change that plan.',
    field: 'quantity',
  },
  routine_one_water_change: {
    message: 'Water changes are already planned for this system. Change that plan.',
    field: 'work',
  },
  access_key_one_name: {
    message: 'A key of this name is in use. End that one first, or choose another name.',
    field: 'name',
  },
  method_quantity_code_name_key: {
    message: 'There is already a method of this name for this quantity.',
    field: 'name',
  },
  acclimation_lot_once: {
    message: 'One of these lots is already being acclimated. End that plan first.',
    field: 'lots',
  },
  step_done_once: { message: 'This step was already done or left out. Open the plan again.', field: '' },
  planned_move_in_one_plan: {
    message:
      'One of these lots, or of the slots they go to, is already in another plan of moves. End that one, or plan again.',
    field: '',
  },
  hold_within_lot: {
    message: 'That would hold more pieces than there are. Look at what is held already, then enter fewer.',
    field: 'pieces',
  },
  digest_receiver_email_key: { message: 'The digest already goes to this address.', field: 'email' },
  label_sheet_name_key: { message: 'There is already a sheet of this name.', field: 'name' },
  label_sheet_fits: {
    message: 'These labels do not fit on that page. Check the sizes, the offsets and the gaps.',
    field: 'widthMm',
  },
  undo_changed_since: {
    message: 'Something was changed there since. Put it right by hand.',
  },
  tag_frozen: { message: 'An issued tag is frozen. Withdraw it and issue another.', field: '' },
};

/** The part of a database error that says what was refused: as pg throws it, or as Prisma's adapter passes it on. */
interface DriverError {
  /** PostgreSQL's code (SQLSTATE). */
  code?: unknown;
  /** pg gives the name; Prisma's adapter wraps it, and leaves it out of what it knows no kind for. */
  constraint?: unknown;
  message?: unknown;
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null;

/** The driver's own error: Prisma keeps it in `meta.driverAdapterError.cause`. */
function driverError(error: unknown): DriverError | null {
  if (!isObject(error)) return null;
  const { meta } = error;
  const wrapped = isObject(meta) && isObject(meta.driverAdapterError) ? meta.driverAdapterError.cause : null;
  return isObject(wrapped) ? wrapped : error;
}

/** Codes of refusals whose constraint the adapter leaves out: a check and an exclusion. */
const unnamed = new Set(['23514', '23P01']);

/**
 * The name in PostgreSQL's own message, which carries no value of anybody's (those stand in the detail): a trigger's
 * message begins with it, any other quotes it last, in the quotes of the server's language.
 */
function nameIn(message: string): string | null {
  const begins = /^([a-z][a-z_]*)(?:: |$)/.exec(message)?.[1];
  const quoted = [...message.matchAll(/["«»„“”]([a-z][a-z0-9_]*)["«»„“”]/g)].at(-1)?.[1];
  return begins ?? quoted ?? null;
}

/** The constraint that a database error names; null when it names none. */
export function constraintOf(error: unknown): string | null {
  const found = driverError(error);
  if (found === null) return null;
  const { constraint, code, message } = found;
  if (typeof constraint === 'string') return constraint;
  if (isObject(constraint) && typeof constraint.index === 'string') return constraint.index;
  return unnamed.has(String(code)) && typeof message === 'string' ? nameIn(message) : null;
}

/** The refusal behind a database error, or null when it is not one that a person can mend. */
export function refusalOf(error: unknown): Refusal | null {
  if (error instanceof Refusal) return error;
  const said = constraintWords[constraintOf(error) ?? ''];
  return said === undefined ? null : new Refusal(said.message, { field: said.field ?? '', status: 409 });
}
