import { uuidv7 } from 'uuidv7';
import type { Hold } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lotSubject } from '../base/lot-lock.ts';
import { passGate } from '../pests/gate.ts';

/** Pieces to be held for a buyer. */
export interface NewHold {
  lotId: string;
  pieces: number;
  buyer: string;
  /** The last day, "2026-12-01". */
  until: string;
  note: string;
  /** Why, although their water is under watch for a pest; '' where it is not said. */
  despite?: string;
}

/** The open holds of a lot, the oldest first. A hold is open until it is released or sold, also past its last day. */
export const openHolds = (db: Reader, lotId: string): Promise<Hold[]> =>
  db.hold.findMany({ where: { lotId, releasedAt: null }, orderBy: [{ createdAt: 'asc' }, { id: 'asc' }] });

/** Why so many pieces cannot be held; "" where they can. */
export function holdRefusal(lot: { pieces: number; held: number }, pieces: number): string {
  const free = lot.pieces - lot.held;
  if (pieces <= free) return '';
  return `Only ${plural(free, 'piece is', 'pieces are')} free: ${lot.held} of ${lot.pieces} are held already.`;
}

/**
 * Holds pieces of several lots in one statement. The lots are locked by the caller, who has asked {@link holdRefusal}.
 * @returns the ids of the holds, in that order
 */
export async function addHolds(
  work: Work,
  holds: readonly (NewHold & { code: string })[],
): Promise<string[]> {
  const despite = holds[0]?.despite ?? '';
  await passGate(work, 'hold', holds, { despite });
  const rows = holds.map(({ code: _, despite: __, until, ...hold }) => ({
    id: uuidv7(),
    ...hold,
    until: new Date(`${until}T00:00:00Z`),
    accountId: work.accountId,
  }));
  await work.tx.hold.createMany({ data: rows });
  for (const { lotId, code, pieces, until } of holds)
    work.record('hold.made', lotSubject(lotId), { code, pieces, until });
  return rows.map(({ id }) => id);
}

/** Releases held pieces. @throws Refusal 404; 409 when the hold is not open any more */
export async function releaseHold(work: Work, id: string, reason: string): Promise<{ lotId: string }> {
  const hold = await work.tx.hold.findUnique({ where: { id } });
  if (hold === null) throw notFound('This hold');
  const { count } = await work.tx.hold.updateMany({
    where: { id, releasedAt: null },
    data: { releasedAt: work.now, releaseReason: reason },
  });
  if (count === 0) throw new Refusal('This hold was already released or sold.', { status: 409 });
  work.record('hold.released', lotSubject(hold.lotId), { pieces: hold.pieces, reason });
  return { lotId: hold.lotId };
}
