import { uuidv7 } from 'uuidv7';
import { minuteMs } from '../science/numeric/time.ts';
import type { Work } from './change.ts';
import { constraintOf, refusalOf } from './constraints.ts';
import type { JournalKind, JournalSubject } from './journal-kinds.ts';
import { Refusal } from './refusal.ts';
import type { Tx } from './service.ts';

// The last change of a person is undone from the notice after saving. While a form's change is made, triggers keep each
// row of it as it was before and after (`undoable_row`); `undo_change` in the database puts them back, unless something
// was changed since or uses them. A change of a kind that is not listed here keeps nothing.

/** How long a change can be undone, in minutes (own choice). */
export const undoMinutes = 10;

/** What can be undone: everything that a change of these kinds writes has a trigger that keeps it. */
const simple: ReadonlySet<JournalKind> = new Set<JournalKind>([
  'acclimation.paused',
  'bench.ordered',
  'care.changed',
  'care.dropped',
  'check.entered',
  'check_reading.voided',
  'circuit.added',
  'circuit.changed',
  'circuit.tested',
  'condition.noted',
  'condition.voided',
  'contact.added',
  'contact.changed',
  'dose.entered',
  'dose.voided',
  'equipment.added',
  'equipment.changed',
  'equipment.filled',
  'equipment.seen_running',
  'equipment.serviced',
  'equipment.tested',
  'fault.mended',
  'fault.noted',
  'feeding.entered',
  'feeding.response_noted',
  'feeding.voided',
  'hold.made',
  'hold.released',
  'kept_apart.overridden',
  'kind.changed',
  'kit.changed',
  'kit.opened',
  'kit.retired',
  'kit_pair.entered',
  'kit_pair.voided',
  'label_sheet.added',
  'label_sheet.retired',
  'lamp.changed',
  'lamp.created',
  'lamp_setting.entered',
  'lamp_setting.removed',
  'ledger.lost',
  'ledger.received',
  'ledger.recount',
  'ledger.sold',
  'ledger.taken_back',
  'limit.set',
  'lot.arrival_corrected',
  'lot.changed',
  'lot.typed_in',
  'method.added',
  'method.changed',
  'off_time.set',
  'order.changed',
  'order.lines_changed',
  'order.priced',
  'order.stage_set',
  'order.taken',
  'pest_look.taken',
  'pest_treatment.entered',
  'pest_watch.ended',
  'pest_watch.named',
  'pest_watch.opened',
  'placement.corrected',
  'placement.ended',
  'placement.narrowed',
  'placement.started',
  'placement.taken_back',
  'product.said',
  'quarantine.changed',
  'quarantine.ended',
  'quarantine.restarted',
  'quarantine.started',
  'rack.changed',
  'rack.created',
  'rack_photograph.lot_counted',
  'rack_photograph.lot_given',
  'rack_photograph.lot_refused',
  'reading.confirmed',
  'reading.entered',
  'reading.moved',
  'reading.refuted',
  'reading.voided',
  'record.person_corrected',
  'room.changed',
  'room.created',
  'round_plan.changed',
  'round_plan.created',
  'round_plan.day_changed',
  'round_plan.day_reset',
  'routine.ended',
  'routine.planned',
  'sale.made',
  'site.changed',
  'slot_base.changed',
  'slot_flow.changed',
  'switched_off.kept_longer',
  'switched_off.noted',
  'switched_off.seen_running',
  'switched_off.voided',
  'system.changed',
  'system.created',
  'system.never_done',
  'system_event.logged',
  'system_event.voided',
  'tank.changed',
  'tank.created',
  'targets.changed',
  'targets.confirmed',
  'targets.proposed',
  'units.changed',
  'upkeep.removed',
  'water_change.entered',
  'water_change.voided',
]);

/** The reason that an undone entry keeps (also in `undo_change` of the database). */
export const undoneWords = 'Undone right after it was saved';

type Subject = JournalSubject<'change.undone'>;

/** Has the rows of a change kept from here on. @returns the change's id */
export async function keepRows(tx: Tx, accountId: string, at: Date): Promise<string> {
  const id = uuidv7();
  const oldest = new Date(at.getTime() - undoMinutes * minuteMs);
  await tx.$executeRaw`
    WITH run_out AS (
      DELETE FROM undoable_change WHERE id IN (
        SELECT id FROM undoable_change WHERE at < ${oldest} ORDER BY at LIMIT 50 FOR UPDATE SKIP LOCKED))
    INSERT INTO undoable_change (id, account_id, at) VALUES (${id}::uuid, ${accountId}::uuid, ${at})`;
  await tx.$queryRaw`SELECT set_config('evenwater.change', ${id}, true)`;
  return id;
}

/**
 * Ends the keeping: what such a change did can be undone, or is forgotten.
 * @returns whether it can be undone
 */
export async function settleRows(
  tx: Tx,
  id: string,
  did: { kinds: readonly string[]; subjects: readonly object[]; systems: readonly string[] },
): Promise<boolean> {
  if (did.kinds.every((kind) => simple.has(kind as JournalKind))) {
    const kept = await tx.$executeRaw`
      UPDATE undoable_change SET subjects = ${JSON.stringify(did.subjects)}::jsonb, systems = ${[...did.systems]}::uuid[]
       WHERE id = ${id}::uuid AND EXISTS (SELECT FROM undoable_row WHERE change_id = ${id}::uuid)`;
    if (kept === 1) return true;
  }
  await tx.$executeRaw`DELETE FROM undoable_change WHERE id = ${id}::uuid`;
  return false;
}

interface Kept {
  accountId: string;
  at: Date;
  subjects: Subject[];
  systems: string[];
  undoneAt: Date | null;
}

/**
 * Puts back what a change did. Entries of a log are voided and stay in view.
 * @returns the ids of what is gone with it
 * @throws Refusal 409 when it is too late, was undone, or something was built on it
 */
export async function undoChange(work: Work, id: string): Promise<{ gone: string[] }> {
  const [kept] = await work.tx.$queryRaw<Kept[]>`
    SELECT account_id AS "accountId", at, subjects, systems, undone_at AS "undoneAt"
      FROM undoable_change WHERE id = ${id}::uuid FOR UPDATE`;
  const isLate = kept === undefined || work.now.getTime() - kept.at.getTime() > undoMinutes * minuteMs;
  if (isLate || kept.accountId !== work.accountId)
    throw new Refusal(
      `A change can be undone for ${undoMinutes} minutes, by whoever made it. Put this one right by hand.`,
      { status: 409 },
    );
  if (kept.undoneAt !== null) throw new Refusal('This was undone already.', { status: 409 });
  const gone = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT after ->> 'id' AS id FROM undoable_row
     WHERE change_id = ${id}::uuid AND before IS NULL AND after ? 'id' AND NOT after ? 'voided_at'`;
  await putBack(work, id);
  await work.tx.$executeRaw`UPDATE undoable_change SET undone_at = ${work.now} WHERE id = ${id}::uuid`;
  for (const { type, id: subjectId, did } of kept.subjects as (Subject & { did: string })[])
    work.record('change.undone', { type, id: subjectId } as Subject, { did });
  for (const system of kept.systems) work.reevaluate(system);
  return { gone: gone.map((row) => row.id) };
}

async function putBack(work: Work, id: string): Promise<void> {
  try {
    await work.tx.$queryRaw`SELECT undo_change(${id}::uuid, ${work.now}::timestamptz)::text`;
  } catch (error) {
    if (constraintOf(error) === null) throw error;
    const { message } = refusalOf(error) ?? {
      message: 'Something entered since uses it. Take that back first, or put this right by hand.',
    };
    throw new Refusal(`This was not undone. ${message}`, { status: 409 });
  }
}
