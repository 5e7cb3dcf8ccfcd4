import { change } from '../platform/change.ts';
import type { Service } from '../platform/service.ts';
import { neighbourhoodOf } from '../platform/web/wrong-tries.rules.ts';
import { forgetTries, giveBack, type Try, takeTry, triesFrom } from '../platform/web/wrong-tries.ts';
import { type Device, isEnrolled } from './devices.ts';
import { passwordFits } from './passwords.ts';

/** Somebody who signed in. */
export interface SignedIn {
  id: string;
  sessionGeneration: number;
}

/** A try to sign in: what was typed, and from where. */
export interface SignInTry {
  email: string;
  password: string;
  ip: string;
  device: Device | null;
  siteId: string | null;
}

/**
 * The account that the address and password belong to, or null; the journal says which. An account that does not exist
 * takes as long, counts as much and is answered the same. Tries count by account and by network, but on a device that
 * the person has signed in with before they count by that device alone: nobody is locked out by the tries of others.
 * @throws Refusal 429 after too many wrong tries, before the password is looked at
 */
export async function signIn(service: Service, attempt: SignInTry): Promise<SignedIn | null> {
  const { db, pool, now } = service;
  const { email, password, ip, device } = attempt;
  const account = await db.account.findUnique({ where: { email } });
  const usable = account !== null && account.disabledAt === null;
  const own: Try | null =
    usable && isEnrolled(device, account) ? { limit: 'device', who: `${device.id} ${account.id}` } : null;
  const tries: Try[] = own === null ? [triesFrom('address', ip), { limit: 'account', who: email }] : [own];
  let inARow = 0;
  // The last counts those at the account, or on the device.
  for (const one of tries) inARow = await takeTry(pool, one, now());
  const fits = await passwordFits(usable ? account.passwordHash : null, password);
  if (!fits || account === null) {
    await noteFailure(service, account?.id ?? null, attempt, inARow);
    return null;
  }
  for (const one of tries) await (one === own ? forgetTries(pool, one) : giveBack(pool, one));
  await noteSignIn(service, account.id, ip);
  return { id: account.id, sessionGeneration: account.sessionGeneration };
}

/** Writes in the journal that somebody signed in. */
async function noteSignIn(service: Service, accountId: string, ip: string): Promise<void> {
  await change(service, { accountId }, async (work) =>
    work.record('sign_in.made', { type: 'account', id: accountId }, { from: ip }),
  );
}

/** Writes in the journal that a try failed: at whose account, or at none. What was typed may be a password, and stays out. */
async function noteFailure(
  service: Service,
  accountId: string | null,
  { ip, siteId }: SignInTry,
  tries: number,
): Promise<void> {
  const at = accountId ?? siteId;
  if (at === null) return;
  const type = accountId === null ? 'site' : 'account';
  await change(service, { accountId: null }, async (work) =>
    work.record('sign_in.failed', { type, id: at }, { from: neighbourhoodOf(ip), tries }),
  );
}

/** Writes in the journal that somebody signed out. */
export async function noteSignOut(service: Service, accountId: string): Promise<void> {
  await change(service, { accountId }, async (work) =>
    work.record('sign_in.ended', { type: 'account', id: accountId }),
  );
}
