import type { Hold } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lockLot, lotSubject } from '../base/lot-lock.ts';

/** Pieces to be held for a buyer. */
export interface NewHold {
  lotId: string;
  pieces: number;
  buyer: string;
  /** The last day, "2026-12-01". */
  until: string;
  note: string;
}

/** The open holds of a lot, the oldest first. A hold is open until it is released or sold, also past its last day. */
export const openHolds = (db: Reader, lotId: string): Promise<Hold[]> =>
  db.hold.findMany({ where: { lotId, releasedAt: null }, orderBy: [{ createdAt: 'asc' }, { id: 'asc' }] });

/** Holds pieces for a buyer. @throws Refusal when fewer are free than that */
export async function addHold(work: Work, input: NewHold): Promise<{ id: string }> {
  const lot = await lockLot(work.tx, input.lotId);
  const held = (await openHolds(work.tx, lot.id)).reduce((sum, hold) => sum + hold.pieces, 0);
  const free = lot.pieces - held;
  if (input.pieces > free) {
    throw new Refusal(
      `Only ${plural(free, 'piece is', 'pieces are')} free: ${held} of ${lot.pieces} are held already.`,
      {
        field: 'pieces',
      },
    );
  }
  const until = new Date(`${input.until}T00:00:00Z`);
  const { id } = await work.tx.hold.create({ data: { ...input, until, accountId: work.accountId } });
  work.record('hold.made', lotSubject(lot.id), { code: lot.code, pieces: input.pieces, until: input.until });
  return { id };
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
