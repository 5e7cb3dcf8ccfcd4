import type { Look } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound } from '../../platform/refusal.ts';

/** A look at a system that is asked for. */
export interface AskedLook {
  systemId: string;
  /** Which one it is of what asks for it: asked for again, it gets the new time. */
  key: string;
  title: string;
  detail: string;
  href: string;
  dueAt: Date;
  /** Overdue it concerns everybody at once. */
  urgent: boolean;
}

/** Asks for a look, or gives the one that was asked for under the same key another time. */
export async function askForLook(work: Work, look: AskedLook): Promise<void> {
  const open = { doneAt: null, doneById: null, note: '' };
  await work.tx.look.upsert({
    where: { key: look.key },
    create: { ...look, createdAt: work.now },
    update: { ...look, ...open },
  });
  work.reevaluate(look.systemId);
  work.reevaluateAt(look.systemId, look.dueAt);
}

/** Somebody looked, or the look is no longer asked for. Nothing where it was not asked for, or is done. */
export async function endLook(work: Work, key: string, { at = work.now, note = '' } = {}): Promise<void> {
  const open = await work.tx.look.findFirst({ where: { key, doneAt: null } });
  if (open === null) return;
  const end = { doneAt: at, doneById: work.accountId, note };
  await work.tx.look.update({ where: { id: open.id }, data: end });
  work.reevaluate(open.systemId);
}

/** Ticks a look off by its id, as due work. @throws Refusal 404 */
export async function noteLooked(
  work: Work,
  id: string,
  { at, note }: { at: Date; note: string },
): Promise<Look> {
  const look = await work.tx.look.findUnique({ where: { id } });
  if (look === null) throw notFound('This look');
  await endLook(work, look.key, { at, note });
  work.record('look.taken', { type: 'system', id: look.systemId }, { title: look.title, note });
  return look;
}
