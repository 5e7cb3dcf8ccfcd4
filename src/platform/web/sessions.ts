import { createHash } from 'node:crypto';
import type { FastifySessionOptions } from '@fastify/session';
import type pg from 'pg';
import type { Prisma, PrismaClient } from '../../generated/prisma/client.ts';
import { dayMs, daysBefore } from '../../science/numeric/time.ts';
import type { Tx } from '../service.ts';

type Store = NonNullable<FastifySessionOptions['store']>;
type StoredSession = Parameters<Store['set']>[1];

/** What a session holds beside its cookie. */
interface SessionContent {
  accountId?: string;
  /** True once it has a row: from then on the row is updated, never written anew. */
  stored?: boolean;
}

/** The database knows only the hash of what the cookie holds. */
const keyOf = (sessionId: string) => createHash('sha256').update(sessionId).digest('hex');

/** How long a sign-in lasts without use. */
export const sessionDays = 14;

/** How long a sign-in lasts at all, used or not (own choice): a tablet is asked for a password four times a year. */
const longestSessionDays = 90;

// Every request asks for its session: in plain SQL, since Prisma's client takes longer to ask than the database to answer.

interface SessionRow {
  data: StoredSession;
  expiresAt: Date;
  createdAt: Date;
}

const rowQuery = `SELECT data, expires_at AS "expiresAt", created_at AS "createdAt" FROM session WHERE id = $1`;

/**
 * Keeps sessions in PostgreSQL, so that any instance knows them and a restart signs nobody out. Only those of people
 * who are signed in are kept. A session whose row is gone has ended: an answer that was under way meanwhile updates
 * nothing, so it cannot bring the session back.
 */
export function sessionStore({ db, pool }: { db: PrismaClient; pool: pg.Pool }): Store {
  return {
    set(sessionId, session, callback) {
      const content = session as SessionContent;
      if (content.accountId === undefined) return callback();
      const isNew = content.stored !== true;
      content.stored = true;
      const row = {
        data: JSON.parse(JSON.stringify(session)) as Prisma.InputJsonObject,
        accountId: content.accountId,
        expiresAt: new Date(session.cookie.expires ?? Date.now() + sessionDays * dayMs),
      };
      const id = keyOf(sessionId);
      const written = isNew
        ? db.session.create({ data: { id, ...row } })
        : db.session.updateMany({ where: { id }, data: row });
      // An answer is not lost because its session could not be renewed; a sign-in that is not kept is none.
      written.then(
        () => callback(),
        (error) => callback(isNew ? error : undefined),
      );
    },
    get(sessionId, callback) {
      pool.query<SessionRow>(rowQuery, [keyOf(sessionId)]).then(({ rows: [row] }) => {
        const now = new Date();
        const lives =
          row !== undefined && row.expiresAt > now && row.createdAt > daysBefore(now, longestSessionDays);
        callback(null, lives ? row.data : null);
      }, callback);
    },
    destroy(sessionId, callback) {
      db.session.deleteMany({ where: { id: keyOf(sessionId) } }).then(() => callback(), callback);
    },
  };
}

/** False once a session has been ended. */
export async function isSessionKept(pool: pg.Pool, sessionId: string): Promise<boolean> {
  return (await pool.query('SELECT FROM session WHERE id = $1', [keyOf(sessionId)])).rowCount === 1;
}

/** Removes the sessions of an account. */
export async function endSessions(tx: Tx, accountId: string): Promise<void> {
  await tx.session.deleteMany({ where: { accountId } });
}

/** Removes the sessions that run on a tablet. */
export async function endTabletSessions(tx: Tx, tabletId: string): Promise<void> {
  await tx.session.deleteMany({ where: { data: { path: ['tablet', 'id'], equals: tabletId } } });
}

/** Removes what has run out. */
export async function sweepSessions(db: PrismaClient, now: Date): Promise<void> {
  const oldest = daysBefore(now, longestSessionDays);
  await db.session.deleteMany({ where: { OR: [{ expiresAt: { lt: now } }, { createdAt: { lt: oldest } }] } });
}
