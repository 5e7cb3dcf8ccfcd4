import { createHash, randomBytes } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import type { Work } from '../platform/change.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import { holdToSeen } from '../platform/seen.ts';
import type { Reader } from '../platform/service.ts';
import { endTabletSessions } from '../platform/web/sessions.ts';
import type { TabletInput } from './tablets.schema.ts';

/** The database knows only the hash of what the tablet's cookie holds, which is random: a plain hash is enough. */
const hashOf = (secret: string) => createHash('sha256').update(secret).digest('hex');

/** Who may stand in the list of a tablet: hands with a PIN who are not switched off. */
const mayUse = { role: 'hand' as const, disabledAt: null, pinHash: { not: null } };

/** Somebody on the list of a tablet. */
export interface TabletHand {
  id: string;
  name: string;
}

/** Hands who have a PIN. */
export function listHands(db: Reader): Promise<TabletHand[]> {
  const { account } = db;
  return account.findMany({ where: mayUse, select: { id: true, name: true }, orderBy: { name: 'asc' } });
}

const withPeople = {
  people: {
    where: { account: mayUse },
    select: { account: { select: { id: true, name: true } } },
    orderBy: { account: { name: 'asc' as const } },
  },
};

interface TabletRow {
  id: string;
  name: string;
  idleMin: number;
  createdAt: Date;
  lastUsedAt: Date | null;
  endedAt: Date | null;
  people: { account: TabletHand }[];
}

/** An enrolled tablet with who may use it. */
export type Tablet = Omit<TabletRow, 'people'> & { people: TabletHand[] };

const tabletOf = ({ id, name, idleMin, createdAt, lastUsedAt, endedAt, people }: TabletRow): Tablet => ({
  ...{ id, name, idleMin, createdAt, lastUsedAt, endedAt },
  people: people.map(({ account }) => account),
});

/** Every tablet, those in use first. */
export async function listTablets(db: Reader): Promise<Tablet[]> {
  const orderBy = [{ endedAt: { sort: 'desc' as const, nulls: 'first' as const } }, { name: 'asc' as const }];
  return (await db.tablet.findMany({ include: withPeople, orderBy })).map(tabletOf);
}

/** @throws Refusal 404 */
export async function findTablet(db: Reader, id: string): Promise<Tablet> {
  const row = await db.tablet.findUnique({ where: { id }, include: withPeople });
  if (row === null) throw notFound('This tablet');
  return tabletOf(row);
}

/**
 * Who else signs in on the enrolled tablet that asks, also those who cannot at the moment: what one of them noted before
 * somebody else took over stays theirs. Empty on any other device.
 */
export async function sharedWith(db: Reader, request: FastifyRequest): Promise<Set<string>> {
  const tablet = request.session?.get('tablet');
  if (tablet === undefined) return new Set();
  const where = { tabletId: tablet.id };
  const rows = await db.tabletPerson.findMany({ where, select: { accountId: true } });
  return new Set(rows.map(({ accountId }) => accountId));
}

/** The tablet that holds a secret; null for one that is unknown or was removed. */
export async function tabletBySecret(db: Reader, secret: string): Promise<Tablet | null> {
  const row = await db.tablet.findUnique({ where: { hash: hashOf(secret) }, include: withPeople });
  return row === null || row.endedAt !== null ? null : tabletOf(row);
}

/** Enrols the tablet that asks. Its secret is in the answer and nowhere else. */
export async function enrolTablet(
  work: Work,
  { name, idleMin, people }: TabletInput,
): Promise<{ id: string; secret: string }> {
  if (work.accountId === null) throw new Error('a tablet is enrolled by a person');
  const secret = randomBytes(32).toString('base64url');
  const names = await namesOfHands(work, people);
  const { id } = await work.tx.tablet.create({
    data: {
      ...{ name, idleMin, hash: hashOf(secret), accountId: work.accountId, createdAt: work.now },
      people: { create: people.map((accountId) => ({ accountId })) },
    },
  });
  work.record('tablet.enrolled', { type: 'tablet', id }, { name, idleMin, people: names });
  return { id, secret };
}

/** @throws Refusal where one of them is no hand with a PIN */
async function namesOfHands(work: Work, ids: readonly string[]): Promise<string[]> {
  const hands = await work.tx.account.findMany({ where: { ...mayUse, id: { in: [...ids] } } });
  if (hands.length !== new Set(ids).size) {
    const message = 'Only hands who have a PIN can use a tablet. Choose them again.';
    throw new Refusal(message, { fields: [{ field: 'people', message }] });
  }
  return hands.map(({ name }) => name);
}

/** A tablet's settings as a form's `seen` tells them apart. */
export const tabletSeen = ({ name, idleMin, people }: Tablet): unknown => [
  ...[name, idleMin],
  people.map(({ id }) => id).toSorted(),
];

/**
 * Changes name, idle time or people. Whoever is at it signs in again, by the new rules.
 * @throws Refusal 404; 409 for a removed tablet or a stale edit
 */
export async function changeTablet(work: Work, id: string, input: TabletInput, seen = ''): Promise<void> {
  await work.tx.$queryRaw`SELECT 1 FROM tablet WHERE id = ${id}::uuid FOR UPDATE`;
  const before = await findTablet(work.tx, id);
  if (before.endedAt !== null) throw isRemoved();
  holdToSeen(seen, tabletSeen(before), 'this tablet');
  const names = await namesOfHands(work, input.people);
  const { name, idleMin, people } = input;
  await work.tx.tabletPerson.deleteMany({ where: { tabletId: id } });
  await work.tx.tablet.update({
    where: { id },
    data: { name, idleMin, people: { create: people.map((accountId) => ({ accountId })) } },
  });
  await endTabletSessions(work.tx, id);
  const was = { name: before.name, idleMin: before.idleMin, people: before.people.map((hand) => hand.name) };
  work.record(
    'tablet.changed',
    { type: 'tablet', id },
    { before: was, after: { name, idleMin, people: names } },
  );
}

const isRemoved = () => new Refusal('This tablet was removed already.', { status: 409 });

/** Removes a tablet: its cookie opens nothing any more, and whoever is at it is signed out. @throws Refusal 404, 409 */
export async function endTablet(work: Work, id: string): Promise<{ name: string }> {
  const { name, endedAt } = await findTablet(work.tx, id);
  if (endedAt !== null) throw isRemoved();
  await work.tx.tablet.update({ where: { id }, data: { endedAt: work.now } });
  await endTabletSessions(work.tx, id);
  work.record('tablet.ended', { type: 'tablet', id }, { name });
  return { name };
}
