import { createHash } from 'node:crypto';
import type { FastifySessionOptions } from '@fastify/session';
import type { Prisma, PrismaClient } from '../../generated/prisma/client.ts';
import { dayMs } from '../../science/numeric/time.ts';
import type { Tx } from '../service.ts';

type Store = NonNullable<FastifySessionOptions['store']>;
type Kept = Parameters<Store['set']>[1];

/** The database knows only the hash of what the cookie holds. */
const keyOf = (sessionId: string) => createHash('sha256').update(sessionId).digest('hex');

/** How long a sign-in lasts without use. */
export const sessionDays = 14;

/** Keeps sessions in PostgreSQL, so that any instance knows them and a restart signs nobody out. */
export function sessionStore(db: PrismaClient): Store {
  return {
    set(sessionId, session, callback) {
      const data = JSON.parse(JSON.stringify(session)) as Prisma.InputJsonObject;
      const accountId = (session as { accountId?: string }).accountId ?? null;
      const expiresAt = new Date(session.cookie.expires ?? Date.now() + sessionDays * dayMs);
      const id = keyOf(sessionId);
      const row = { data, accountId, expiresAt };
      db.session
        .upsert({ where: { id }, create: { id, ...row }, update: row })
        .then(() => callback(), callback);
    },
    get(sessionId, callback) {
      db.session.findUnique({ where: { id: keyOf(sessionId) } }).then((row) => {
        const live = row !== null && row.expiresAt > new Date();
        callback(null, live ? (row.data as unknown as Kept) : null);
      }, callback);
    },
    destroy(sessionId, callback) {
      db.session.deleteMany({ where: { id: keyOf(sessionId) } }).then(() => callback(), callback);
    },
  };
}

/** Signs an account out everywhere. */
export async function endSessions(tx: Tx, accountId: string): Promise<void> {
  await tx.session.deleteMany({ where: { accountId } });
}

/** Removes what has run out. */
export async function sweepSessions(db: PrismaClient, now: Date): Promise<void> {
  await db.session.deleteMany({ where: { expiresAt: { lt: now } } });
}
