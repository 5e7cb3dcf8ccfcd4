import type { DigestReceiver } from '../generated/prisma/client.ts';
import type { Work } from '../platform/change.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import type { Reader } from '../platform/service.ts';

export interface NewReceiver {
  name: string;
  email: string;
  /** The site whose digest they get. */
  siteId: string;
}

/** Who gets the digests of a site by mail now, by name. */
export const listReceivers = (db: Reader, siteId: string): Promise<DigestReceiver[]> =>
  db.digestReceiver.findMany({
    where: { stoppedAt: null, siteIds: { has: siteId } },
    orderBy: [{ name: 'asc' }, { email: 'asc' }],
  });

/** @throws Refusal 404 */
export async function findReceiver(db: Reader, id: string): Promise<DigestReceiver> {
  const receiver = await db.digestReceiver.findUnique({ where: { id } });
  if (receiver === null) throw notFound('This receiver');
  return receiver;
}

/** Has the digests of a site sent to somebody, beside those of others that they get; one who had stopped all gets these. */
export async function addReceiver(work: Work, { name, email, siteId }: NewReceiver): Promise<{ id: string }> {
  const there = await work.tx.digestReceiver.findUnique({ where: { email } });
  const others = there === null || there.stoppedAt !== null ? [] : there.siteIds;
  if (others.includes(siteId))
    throw new Refusal('The digest already goes to this address.', { field: 'email' });
  const data = { name, email, siteIds: [...others, siteId], stoppedAt: null, createdAt: work.now };
  // Somebody who gets another site's keeps the name that is used there.
  const update = others.length === 0 ? data : { siteIds: data.siteIds };
  const { id } = await work.tx.digestReceiver.upsert({ where: { email }, create: data, update });
  work.record('digest_receiver.added', { type: 'digest_receiver', id }, { name, email });
  return { id };
}

/**
 * Ends the digests of one site, or (null) of all; what waits to be sent to them is given up. Doing it twice is once.
 * @throws Refusal 404
 */
export async function stopReceiver(work: Work, id: string, siteId: string | null): Promise<void> {
  const receiver = await findReceiver(work.tx, id);
  const left = siteId === null ? [] : receiver.siteIds.filter((site) => site !== siteId);
  const data = left.length > 0 ? { siteIds: left } : { stoppedAt: receiver.stoppedAt ?? work.now };
  await work.tx.digestReceiver.update({ where: { id }, data: { ...data, version: { increment: 1 } } });
  await work.tx.letter.updateMany({
    where: {
      receiverId: id,
      sentAt: null,
      givenUpAt: null,
      ...(siteId === null ? {} : { digest: { siteId } }),
    },
    data: { givenUpAt: work.now, lastError: 'left the list' },
  });
  work.record('digest_receiver.stopped', { type: 'digest_receiver', id }, { email: receiver.email });
}
