import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import type { unitChoices } from '../platform/units/units.ts';
import { endSessions } from '../platform/web/sessions.ts';
import { forgetTries, type Try, takeTry } from '../platform/web/wrong-tries.ts';
import { hashPassword, passwordFits } from './passwords.ts';

/**
 * Asks somebody who is signed in for the password again. Tries count by the account, apart from those of signing in.
 * @throws Refusal 422 at the field `current`; 429 after too many wrong ones
 */
export async function askAgain(service: Service, accountId: string, password: string): Promise<void> {
  const tries: Try = { limit: 'account', who: `again ${accountId}` };
  await takeTry(service.pool, tries, service.now());
  const { passwordHash } = await service.db.account.findUniqueOrThrow({ where: { id: accountId } });
  if (!(await passwordFits(passwordHash, password)))
    throw new Refusal('That is not your password.', {
      fields: [{ field: 'current', message: 'That is not your password. Capital letters count.' }],
    });
  await forgetTries(service.pool, tries);
}

/** Sets a password; all sessions of before end. Gives the generation of the new ones. */
export async function setPassword(
  { tx }: Work,
  accountId: string,
  password: string,
): Promise<{ email: string | null; sessionGeneration: number }> {
  const account = await tx.account.update({
    where: { id: accountId },
    data: {
      passwordHash: await hashPassword(password),
      version: { increment: 1 },
      sessionGeneration: { increment: 1 },
    },
  });
  await endSessions(tx, accountId);
  return account;
}

/** Sets one's own password. Gives the generation of the new sessions. */
export async function changeOwnPassword(work: Work, accountId: string, password: string): Promise<number> {
  const { sessionGeneration } = await setPassword(work, accountId, password);
  work.record('account.password_changed', { type: 'account', id: accountId });
  return sessionGeneration;
}

/** Ends every session of an account. */
export async function signOutEverywhere(work: Work, accountId: string): Promise<void> {
  await work.tx.account.update({ where: { id: accountId }, data: { sessionGeneration: { increment: 1 } } });
  await endSessions(work.tx, accountId);
  work.record('account.signed_out', { type: 'account', id: accountId });
}

/** Sets in which units somebody reads and types; null: as the site has it. */
export async function setOwnUnits(
  work: Work,
  accountId: string,
  units: Record<keyof typeof unitChoices, string | null>,
): Promise<void> {
  const { volume, length, mass, temperature, alkalinity, salinity } = units;
  await work.tx.account.update({
    where: { id: accountId },
    data: {
      volumeUnit: volume,
      lengthUnit: length,
      massUnit: mass,
      temperatureUnit: temperature,
      alkalinityUnit: alkalinity,
      salinityUnit: salinity,
    },
  });
  work.record('account.units_set', { type: 'account', id: accountId }, { ...units });
}
