import type { FieldError } from './views/page.ts';

/** Why something is not done, said to the person who asked for it. */
export class Refusal extends Error {
  readonly status: number;
  readonly fields: FieldError[];

  /**
   * @param message one sentence that says what is wrong and what to do
   * @param options status: 422 unless told (404 not found, 403 forbidden, 409 changed meanwhile);
   *   field: the form field the message belongs beside; fields: several
   */
  constructor(message: string, options: { status?: number; field?: string; fields?: FieldError[] } = {}) {
    super(message);
    this.name = 'Refusal';
    this.status = options.status ?? 422;
    this.fields = options.fields ?? [{ field: options.field ?? '', message }];
  }
}

/** Something asked for by its address that is not there. `what`: "This lot". */
export function notFound(what: string): Refusal {
  return new Refusal(`${what} does not exist, or no longer.`, { status: 404 });
}

/** Somebody else changed it since the form was drawn. */
export function staleEdit(what: string): Refusal {
  return new Refusal(
    `Somebody changed ${what} while you were editing. What you typed is kept below; look at what is there now, then save again.`,
    { status: 409 },
  );
}

/** What the database refused, in words. One entry for each constraint a person can run into. */
const explained: Record<string, { message: string; field?: string }> = {
  ledger_not_below_zero: {
    message: 'That would take the count below zero. Look at how many pieces there are, then enter fewer.',
    field: 'pieces',
  },
  lot_pieces_not_negative: { message: 'That would take the count below zero.', field: 'pieces' },
  placement_lot_once: {
    message:
      'The lot already stands somewhere at that time. Choose a later time, or move it from where it stands.',
    field: 'slot',
  },
  placement_slot_free: { message: 'That slot is taken at that time. Choose a free one.', field: 'slot' },
  placement_within_rack: {
    message: 'That slot is no longer part of the rack. Choose another one.',
    field: 'slot',
  },
  rack_keeps_lots: {
    message: 'Lots stand where the rack would end. Move them first, or keep those rows and columns.',
    field: 'rows',
  },
  placement_order: { message: 'It cannot leave a slot before it came there. Check the time.', field: 'at' },
  account_email_key: { message: 'There is already an account with this address.', field: 'email' },
  account_last_owner: {
    message: 'The farm needs at least one owner. Make somebody else owner first.',
    field: 'role',
  },
  lot_code_key: { message: 'There is already a lot with this code.', field: 'code' },
  system_site_id_name_key: { message: 'There is already a system of this name.', field: 'name' },
  tank_system_id_name_key: { message: 'This system already has a tank of this name.', field: 'name' },
  rack_tank_id_name_key: { message: 'This tank already has a rack of this name.', field: 'name' },
  lamp_tank_id_name_key: { message: 'This tank already has lamps of this name.', field: 'name' },
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
  tag_frozen: { message: 'An issued tag is frozen. Withdraw it and issue another.', field: '' },
};

function texts(error: unknown, depth = 0): string {
  if (depth > 6 || error === null || typeof error !== 'object') return String(error ?? '');
  const names = [
    'message',
    'constraint',
    'originalMessage',
    'detail',
    'meta',
    'cause',
    'driverAdapterError',
    'fields',
    'index',
  ];
  return names.map((name) => texts((error as Record<string, unknown>)[name], depth + 1)).join(' ');
}

/** The refusal behind a database error, or null when it is not one that a person can mend. */
export function refusalOf(error: unknown): Refusal | null {
  if (error instanceof Refusal) return error;
  const said = texts(error);
  for (const [constraint, { message, field }] of Object.entries(explained)) {
    if (said.includes(constraint)) return new Refusal(message, { field: field ?? '', status: 409 });
  }
  return null;
}
