import { createHash, randomBytes } from 'node:crypto';
import type { PrismaClient } from '../generated/prisma/client.ts';
import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Reader, Tx } from '../platform/service.ts';
import { dayMs, hourMs } from '../science/numeric/time.ts';
import { setPassword } from './own-account.ts';

/** How long a link works (OWASP, Forgot Password Cheat Sheet: short; an hour is our choice). */
const linkHours = 1;

/** The database knows only the hash of what the address holds, which is random: a plain hash is enough. */
const hashOf = (token: string) => createHash('sha256').update(token).digest('hex');

/** Makes a link of 256 random bits; the answer is the only place where its secret is. @param email the address it confirms */
export async function makeLink(tx: Tx, accountId: string, email: string | null, now: Date): Promise<string> {
  const token = randomBytes(32).toString('base64url');
  const expiresAt = new Date(now.getTime() + linkHours * hourMs);
  await tx.accountLink.create({ data: { hash: hashOf(token), accountId, email, createdAt: now, expiresAt } });
  return token;
}

/** A link that still works. */
interface OpenLink {
  id: string;
  accountId: string;
  email: string | null;
}

/** What a link is for; null for one that is unknown, used or too old. */
export async function findLink(db: Reader, token: string, now: Date): Promise<OpenLink | null> {
  const link = await db.accountLink.findUnique({ where: { hash: hashOf(token) } });
  if (link === null || link.usedAt !== null || link.expiresAt <= now) return null;
  const account = await db.account.findUnique({ where: { id: link.accountId } });
  return account === null || account.disabledAt !== null ? null : link;
}

/** What is said of a link that does not work. */
export const linkIsOver = () =>
  new Refusal('This link was used already, or is older than an hour. Ask for a new one.', { status: 410 });

/** Uses a link up, with all others of its account for the same purpose. @throws Refusal 410 where it does not work (any more) */
async function useUp(work: Work, token: string, isAddress: boolean): Promise<OpenLink> {
  const link = await findLink(work.tx, token, work.now);
  if (link === null || (link.email !== null) !== isAddress) throw linkIsOver();
  // Counted by the database: of two who use it at once, one is let through.
  const mine = await work.tx.accountLink.updateMany({
    where: { id: link.id, usedAt: null },
    data: { usedAt: work.now },
  });
  if (mine.count !== 1) throw linkIsOver();
  await work.tx.accountLink.updateMany({
    where: { accountId: link.accountId, usedAt: null, email: isAddress ? { not: null } : null },
    data: { usedAt: work.now },
  });
  return link;
}

/** Sets a password by a link, and signs the person out everywhere. @throws Refusal 410 */
export async function setPasswordByLink(
  work: Work,
  token: string,
  password: string,
): Promise<{ email: string | null }> {
  const { accountId } = await useUp(work, token, false);
  const { email } = await setPassword(work, accountId, password);
  work.record('account.link_used', { type: 'account', id: accountId });
  return { email };
}

/** Takes a new address that its own mailbox has confirmed. @throws Refusal 410; in words where another account has it by now */
export async function confirmAddress(work: Work, token: string): Promise<{ email: string }> {
  const { accountId, email } = await useUp(work, token, true);
  if (email === null) throw linkIsOver();
  await changeAddress(work, accountId, email);
  return { email };
}

/** Changes the address of an account. Links to the old address are worth nothing from then on. */
export async function changeAddress(work: Work, accountId: string, email: string): Promise<void> {
  const before = await work.tx.account.findUniqueOrThrow({ where: { id: accountId } });
  await work.tx.account.update({ where: { id: accountId }, data: { email, version: { increment: 1 } } });
  await work.tx.accountLink.updateMany({ where: { accountId, usedAt: null }, data: { usedAt: work.now } });
  work.record(
    'account.address_changed',
    { type: 'account', id: accountId },
    { before: { email: before.email }, after: { email } },
  );
}

/** Removes links that ran out a day ago. */
export async function sweepLinks(db: PrismaClient, now: Date): Promise<void> {
  await db.accountLink.deleteMany({ where: { expiresAt: { lt: new Date(now.getTime() - dayMs) } } });
}
