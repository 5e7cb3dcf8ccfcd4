import { change } from '../platform/change.ts';
import type { Service } from '../platform/service.ts';
import { endTabletSessions } from '../platform/web/sessions.ts';
import { forgetTries, type Try, takeTry } from '../platform/web/wrong-tries.ts';
import { passwordFits } from './passwords.ts';
import type { SignedIn } from './sign-in.ts';
import type { Tablet } from './tablets.ts';

/**
 * The hand whose PIN was typed on a tablet, or null. Tries count by tablet and person: whoever guesses at one person
 * locks neither the others on this tablet nor that person elsewhere.
 * @throws Refusal 429 after too many wrong tries, before the PIN is looked at
 */
export async function signInByPin(
  service: Service,
  tablet: Tablet,
  accountId: string,
  pin: string,
): Promise<SignedIn | null> {
  if (!tablet.people.some(({ id }) => id === accountId)) return null;
  const tries: Try = { limit: 'pin', who: `${tablet.id} ${accountId}` };
  const inARow = await takeTry(service.pool, tries, service.now());
  const account = await service.db.account.findUniqueOrThrow({ where: { id: accountId } });
  const fits = await passwordFits(account.pinHash, pin);
  await change(service, { accountId: fits ? accountId : null }, async (work) => {
    const kind = fits ? 'sign_in.made' : 'sign_in.failed';
    work.record(
      kind,
      { type: 'account', id: accountId },
      { tablet: tablet.name, ...(fits ? {} : { tries: inARow }) },
    );
    if (!fits) return;
    // One person at a time: whoever was at it before is signed out.
    await endTabletSessions(work.tx, tablet.id);
    await work.tx.tablet.update({ where: { id: tablet.id }, data: { lastUsedAt: work.now } });
  });
  if (!fits) return null;
  await forgetTries(service.pool, tries);
  return { id: account.id, sessionGeneration: account.sessionGeneration };
}
