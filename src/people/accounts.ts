import type { Role } from '../generated/prisma/enums.ts';
import type { Work } from '../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../platform/refusal.ts';
import type { Reader } from '../platform/service.ts';
import { endSessions } from '../platform/web/sessions.ts';
import type { AccountEdit, FirstRun, NewAccount } from './accounts.schema.ts';
import { hashPassword } from './passwords.ts';

/** Adds a site and gives its id. */
export type AddSite = (work: Work, site: { name: string; timeZone: string }) => Promise<string>;

/** Every site, by name. */
export type ListSites = (db: Reader) => Promise<{ id: string; name: string }[]>;

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
  /** Null for a hand who signs in on tablets alone. */
  email: string | null;
  hasPin: boolean;
  role: Role;
  disabled: boolean;
  version: number;
}

const person = (row: {
  id: string;
  name: string;
  email: string | null;
  pinHash: string | null;
  role: Role;
  disabledAt: Date | null;
  version: number;
}): Person => ({
  id: row.id,
  name: row.name,
  email: row.email,
  hasPin: row.pinHash !== null,
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

const hashOrNone = async (secret: string) => (secret === '' ? null : hashPassword(secret));

/** Adds a person: to every site, or to the one that is told, where there are several. */
export async function addPerson(
  work: Work,
  input: NewAccount,
  siteId: string | null,
): Promise<{ id: string }> {
  const { password, pin, ...rest } = input;
  const account = await work.tx.account.create({
    data: { ...rest, passwordHash: await hashOrNone(password), pinHash: await hashOrNone(pin) },
  });
  work.record(
    'account.created',
    { type: 'account', id: account.id },
    { name: account.name, role: account.role },
  );
  if (siteId !== null && input.role !== 'owner')
    await work.tx.sitePerson.create({ data: { siteId, accountId: account.id, role: input.role } });
  return { id: account.id };
}

const fieldRefusal = (field: string, message: string) =>
  new Refusal(message, { fields: [{ field, message }] });

const isManagerSomewhere = async ({ tx }: Work, accountId: string) =>
  (await tx.sitePerson.count({ where: { accountId, role: 'manager' } })) > 0;

/** Changes name, role, standing, password or PIN; with a new role or secret, or switched off, the person is signed out everywhere. */
export async function editPerson(work: Work, id: string, input: AccountEdit): Promise<void> {
  const before = await findPerson(work.tx, id);
  const disabledAt = input.disabled ? work.now : null;
  if (input.password !== '' && before.email === null)
    throw fieldRefusal('password', 'A password needs an e-mail address, which this person has not.');
  if (before.email === null && input.role !== 'hand')
    throw fieldRefusal('role', 'Without an e-mail address a person can only be a hand.');
  if (input.pin !== '' && input.role !== 'hand') throw fieldRefusal('pin', 'Only hands sign in with a PIN.');
  if (input.pin !== '' && (await isManagerSomewhere(work, id)))
    throw fieldRefusal('pin', 'Only hands sign in with a PIN, and this person manages a site.');
  const secret = {
    ...(input.password === '' ? {} : { passwordHash: await hashPassword(input.password) }),
    ...(input.pin === '' ? {} : { pinHash: await hashPassword(input.pin) }),
  };
  // A session on a tablet was opened by a PIN: it must not grow with the role.
  const isSignedOut =
    input.disabled || input.password !== '' || input.pin !== '' || input.role !== before.role;
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
    { before, after, passwordChanged: input.password !== '', pinChanged: input.pin !== '' },
  );
}
