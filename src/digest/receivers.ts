import type { DigestReceiver } from '../generated/prisma/client.ts';
import type { Work } from '../platform/change.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import type { Reader } from '../platform/service.ts';

export interface NewReceiver {
  name: string;
  email: string;
  /** Sites whose digest they get. */
  siteIds: readonly string[];
}

/** Who gets digests by mail now, by name. */
export const listReceivers = (db: Reader): Promise<DigestReceiver[]> =>
  db.digestReceiver.findMany({ where: { stoppedAt: null }, orderBy: [{ name: 'asc' }, { email: 'asc' }] });

/** @throws Refusal 404 */
export async function findReceiver(db: Reader, id: string): Promise<DigestReceiver> {
  const receiver = await db.digestReceiver.findUnique({ where: { id } });
  if (receiver === null) throw notFound('This receiver');
  return receiver;
}

/** Has the digests of these sites sent to somebody; one who had stopped it gets them again. */
export async function addReceiver(
  work: Work,
  { name, email, siteIds }: NewReceiver,
): Promise<{ id: string }> {
  const there = await work.tx.digestReceiver.findUnique({ where: { email } });
  if (there !== null && there.stoppedAt === null)
    throw new Refusal('The digest already goes to this address.', { field: 'email' });
  const data = { name, email, siteIds: [...siteIds], stoppedAt: null, createdAt: work.now };
  const { id } = await work.tx.digestReceiver.upsert({ where: { email }, create: data, update: data });
  work.record('digest_receiver.added', { type: 'digest_receiver', id }, { name, email });
  return { id };
}

/** Ends it; what waits to be sent to them is given up. Doing it twice is once. */
export async function stopReceiver(work: Work, id: string): Promise<void> {
  const receiver = await findReceiver(work.tx, id);
  await work.tx.digestReceiver.update({
    where: { id },
    data: { stoppedAt: receiver.stoppedAt ?? work.now, version: { increment: 1 } },
  });
  await work.tx.letter.updateMany({
    where: { receiverId: id, sentAt: null, givenUpAt: null },
    data: { givenUpAt: work.now, lastError: 'left the list' },
  });
  work.record('digest_receiver.stopped', { type: 'digest_receiver', id }, { email: receiver.email });
}
