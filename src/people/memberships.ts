import type { Prisma } from '../generated/prisma/client.ts';
import type { Role } from '../generated/prisma/enums.ts';
import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Standing } from '../platform/seen.ts';
import type { Reader } from '../platform/service.ts';
import { findPerson } from './accounts.ts';

/** What somebody may be at one site; owners are owners everywhere. */
export type SiteRole = Exclude<Role, 'owner'>;

/** At which sites an account is named, and as what. Empty: it belongs to every site. */
export async function membershipsOf(db: Reader, accountId: string): Promise<Map<string, Role>> {
  const rows = await db.sitePerson.findMany({ where: { accountId } });
  return new Map(rows.map(({ siteId, role }) => [siteId, role]));
}

/** What new memberships of an account write over. */
export const membershipsStanding = (accountId: string): Standing => ({
  what: 'the sites of this person',
  read: async (reader) => [...(await membershipsOf(reader, accountId))].sort(),
});

/** Whoever can work at a site: belongs there as more than a reader, and may sign in. */
const worksAt = (siteId: string): Prisma.AccountWhereInput => ({
  disabledAt: null,
  OR: [
    { role: 'owner' },
    { sites: { some: { siteId, role: { not: 'reader' } } } },
    { sites: { none: {} }, role: { not: 'reader' } },
  ],
});

/** Everybody to whom work can be given at a site, by name. */
export const listWorkers = (db: Reader, siteId: string): Promise<{ id: string; name: string }[]> =>
  db.account.findMany({
    where: worksAt(siteId),
    orderBy: { name: 'asc' },
    select: { id: true, name: true },
  });

/** Whether work at a site can be given to somebody. */
export const canWorkAt = async (db: Reader, siteId: string, accountId: string): Promise<boolean> =>
  (await db.account.count({ where: { id: accountId, ...worksAt(siteId) } })) === 1;

const refused = (field: string, message: string) => new Refusal(message, { field });

/**
 * Sets to which sites somebody belongs, and as what.
 * @throws Refusal 404; 422 for an owner, for no site at all, and for more than a hand without an e-mail address or with a PIN
 */
export async function setMemberships(
  work: Work,
  accountId: string,
  roles: ReadonlyMap<string, SiteRole>,
): Promise<void> {
  const person = await findPerson(work.tx, accountId);
  const [first] = [...roles.keys()];
  if (person.role === 'owner') throw refused('', 'An owner belongs to every site.');
  if (first === undefined)
    throw refused('', 'Choose at least one site. To keep somebody out of all, switch the person off.');
  const isAbove = [...roles].find(([, role]) => role === 'manager');
  if (isAbove !== undefined && (person.email === null || person.hasPin))
    throw refused(
      `site-${isAbove[0]}`,
      'Somebody who signs in with a PIN, or without an e-mail address, can only be a hand or a reader.',
    );
  const before = await membershipsOf(work.tx, accountId);
  await work.tx.sitePerson.deleteMany({ where: { accountId } });
  await work.tx.sitePerson.createMany({
    data: [...roles].map(([siteId, role]) => ({ siteId, accountId, role })),
  });
  work.record(
    'account.sites_set',
    { type: 'account', id: accountId },
    { before: Object.fromEntries(before), after: Object.fromEntries(roles) },
  );
}

/**
 * Ties everybody who is named at no site to the sites there are, before another is added: nobody gets into a new site
 * unasked.
 */
export async function tieToSites(work: Work, siteIds: readonly string[]): Promise<void> {
  const untied = await work.tx.account.findMany({
    where: { role: { not: 'owner' }, sites: { none: {} } },
    select: { id: true, role: true },
  });
  await work.tx.sitePerson.createMany({
    data: untied.flatMap(({ id, role }) => siteIds.map((siteId) => ({ siteId, accountId: id, role }))),
  });
}

/** Who may plan at a site and has an address, by name: owners, and managers who belong there. */
export async function managersOf(
  db: Reader,
  siteId: string,
): Promise<{ id: string; name: string; email: string }[]> {
  const people = await db.account.findMany({
    where: {
      disabledAt: null,
      email: { not: null },
      OR: [
        { role: 'owner' },
        { sites: { some: { siteId, role: 'manager' } } },
        { sites: { none: {} }, role: 'manager' },
      ],
    },
    orderBy: { name: 'asc' },
    select: { id: true, name: true, email: true },
  });
  return people.flatMap(({ email, ...person }) => (email === null ? [] : [{ ...person, email }]));
}
