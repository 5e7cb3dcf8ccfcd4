import type { Contact } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { ContactEdit, ContactInput } from './contacts.schema.ts';

/** Whom a site calls, in the order of the roles. */
export function listContacts(db: Reader, siteId: string): Promise<Contact[]> {
  return db.contact.findMany({
    where: { siteId, removedAt: null },
    orderBy: [{ role: 'asc' }, { name: 'asc' }, { id: 'asc' }],
  });
}

/** Who is on call on a site, in the order in which they are called. */
export function listOnCall(db: Reader, siteId: string): Promise<Contact[]> {
  return db.contact.findMany({
    where: { siteId, removedAt: null, onCall: { not: null } },
    orderBy: [{ onCall: 'asc' }, { name: 'asc' }, { id: 'asc' }],
  });
}

/** @throws Refusal 404 */
export async function findContact(db: Reader, id: string): Promise<Contact> {
  const contact = await db.contact.findUnique({ where: { id } });
  if (contact === null) throw notFound('This number');
  return contact;
}

export async function addContact(work: Work, siteId: string, input: ContactInput): Promise<{ id: string }> {
  const { id } = await work.tx.contact.create({ data: { ...input, siteId } });
  work.record('contact.added', { type: 'contact', id }, input);
  return { id };
}

/** Changes a number, or takes it off the list; its row stays. @throws Refusal 404, 409 on a stale edit */
export async function editContact(
  work: Work,
  id: string,
  { version, removed, ...after }: ContactEdit,
): Promise<void> {
  const { version: _, siteId: __, ...before } = await findContact(work.tx, id);
  const removedAt = removed ? (before.removedAt ?? work.now) : null;
  const data = { ...after, removedAt, version: { increment: 1 } };
  const changed = await work.tx.contact.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this number');
  work.record('contact.changed', { type: 'contact', id }, { before, after: { ...after, removedAt } });
}
