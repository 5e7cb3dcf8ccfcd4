import type { Role } from '../generated/prisma/enums.ts';
import type { Work } from '../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../platform/refusal.ts';
import type { Reader } from '../platform/service.ts';
import { endSessions } from '../platform/web/sessions.ts';
import type { AccountEdit, FirstRun, NewAccount } from './accounts.schema.ts';
import { hashPassword } from './passwords.ts';

/** Adds a site and gives its id. */
export type AddSite = (work: Work, site: { name: string; timeZone: string }) => Promise<string>;

/** Creates the owner's account and the first site. @throws Refusal when the farm is already set up */
export async function setUpFarm(
  work: Work,
  input: FirstRun,
  addSite: AddSite,
): Promise<{ accountId: string; siteId: string }> {
  await work.tx.$executeRaw`LOCK TABLE account IN SHARE ROW EXCLUSIVE MODE`;
  if ((await work.tx.account.count()) > 0) {
    throw new Refusal('This farm is already set up. Sign in, or ask its owner for an account.', {
      status: 409,
    });
  }
  const passwordHash = await hashPassword(input.password);
  const account = await work.tx.account.create({
    data: { name: input.name, email: input.email, passwordHash, role: 'owner' },
  });
  work.record(
    'account.created',
    { type: 'account', id: account.id },
    { name: account.name, role: account.role },
  );
  const siteId = await addSite(work, { name: input.siteName, timeZone: input.timeZone });
  return { accountId: account.id, siteId };
}

export interface Person {
  id: string;
  name: string;
  email: string;
  role: Role;
  disabled: boolean;
  version: number;
}

const person = (row: {
  id: string;
  name: string;
  email: string;
  role: Role;
  disabledAt: Date | null;
  version: number;
}): Person => ({
  id: row.id,
  name: row.name,
  email: row.email,
  role: row.role,
  disabled: row.disabledAt !== null,
  version: row.version,
});

export async function listPeople(db: Reader): Promise<Person[]> {
  return (await db.account.findMany({ orderBy: [{ disabledAt: 'desc' }, { name: 'asc' }] })).map(person);
}

/** @throws Refusal 404 */
export async function findPerson(db: Reader, id: string): Promise<Person> {
  const row = await db.account.findUnique({ where: { id } });
  if (row === null) throw notFound('This account');
  return person(row);
}

export async function addPerson(work: Work, input: NewAccount): Promise<{ id: string }> {
  const { password, ...rest } = input;
  const account = await work.tx.account.create({
    data: { ...rest, passwordHash: await hashPassword(password) },
  });
  work.record(
    'account.created',
    { type: 'account', id: account.id },
    { name: account.name, role: account.role },
  );
  return { id: account.id };
}

/** Changes name, role, standing or password; a disabled or re-passworded account is signed out everywhere. */
export async function editPerson(work: Work, id: string, input: AccountEdit): Promise<void> {
  const before = await findPerson(work.tx, id);
  const disabledAt = input.disabled ? work.now : null;
  const secret = input.password === '' ? {} : { passwordHash: await hashPassword(input.password) };
  const isSignedOut = input.disabled || input.password !== '';
  const data = {
    name: input.name,
    role: input.role,
    disabledAt,
    ...secret,
    version: { increment: 1 },
    // A sign-in that is under way may still write its session: of a generation that is over, it is worth nothing.
    ...(isSignedOut ? { sessionGeneration: { increment: 1 } } : {}),
  };
  const changed = await work.tx.account.updateMany({ where: { id, version: input.version }, data });
  if (changed.count === 0) throw staleEdit('this account');
  if (isSignedOut) await endSessions(work.tx, id);
  const after = { name: input.name, role: input.role, disabled: input.disabled };
  work.record(
    'account.changed',
    { type: 'account', id },
    { before, after, passwordChanged: input.password !== '' },
  );
}
