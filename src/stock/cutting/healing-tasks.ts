import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { piecesAt } from '../base/lot-lock.ts';
import { ASKED_DAYS, dueStage, healingStages, healingWords } from './healing.rules.ts';
import { type CutWithLooks, cutsInSystems, noteHealing } from './healing.ts';

/** Looks at cut pieces that are due in these systems, or were taken on the present day. One query. */
export async function healingTasks(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<DueTask[]> {
  const cuts = await cutsInSystems(pool, systemIds, daysBefore(now, ASKED_DAYS));
  return cuts.flatMap((cut) => taskOf(cut, now));
}

function taskOf(cut: CutWithLooks, now: Date): DueTask[] {
  const { timeZone, looks, into, left } = cut;
  const today = localDay(now, timeZone);
  const seen = looks.findLast(({ at }) => localDay(at, timeZone) === today);
  const due = dueStage(healingStages(cut.at, looks, now));
  if (cut.systemId === null || (seen === undefined && due === null)) return [];
  const last = looks.at(-1);
  const dueOn = due === null ? today : localDay(due.dueAt, timeZone);
  const days = calendarDaysBetween(localDay(cut.at, timeZone), today);
  const detail = [
    `${cut.kind}${cut.place === '' ? '' : ` on ${cut.place}`}, cut ${plural(days, 'day', 'days')} ago${cut.tool === '' ? '' : ` with ${cut.tool}`}.`,
    ...(last === undefined ? [] : [`Last look: ${healingWords(last)}.`]),
    `Tick it only if all ${left} are there and alive. Otherwise count them on its page.`,
  ];
  return [
    {
      key: `healing:${cut.id}`,
      work: 'look',
      systemId: cut.systemId,
      systemName: cut.systemName,
      title: `Count the cut pieces of ${into.code}: ${plural(left, 'piece', 'pieces')}`,
      detail,
      cautions: [],
      held: null,
      dueOn: seen === undefined ? dueOn : today,
      overdueDays: seen === undefined ? Math.max(0, calendarDaysBetween(dueOn, today)) : 0,
      done: seen !== undefined,
      href: `/stock/${into.code}/healing`,
    },
  ];
}

/**
 * All pieces of a cut are there and alive; whether they have healed is not said by it.
 * @throws Refusal 404; 409 where no piece is left
 */
export async function tickHealing(
  work: Work,
  cutId: string,
  { at, note }: { at: Date; note: string },
): Promise<{ systemId: string; what: string }> {
  const cut = await work.tx.cut.findUnique({ where: { id: cutId } });
  if (cut === null) throw new Refusal('This cut is not there any more.', { status: 404 });
  const alive = await piecesAt(work.tx, cut.intoLotId, at);
  const { code, words } = await noteHealing(
    work,
    { id: cutId },
    { at, note, alive, healed: null, dead: 0, missing: 0 },
  );
  const { rows } = await readerOf(work.tx).query<{ id: string }>(
    'SELECT system_id AS id FROM lot_water WHERE lot_id = $1::uuid',
    [cut.intoLotId],
  );
  return { systemId: rows[0]?.id ?? '', what: `Cut pieces of ${code}: ${words}` };
}
