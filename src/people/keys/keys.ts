import { createHash, randomBytes } from 'node:crypto';
import type pg from 'pg';
import { z } from 'zod';
import type { Role } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { many, optionalNumber, text } from '../../platform/web/fields.ts';
import type { Machine } from '../../platform/web/machines.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { scopeCodes } from './scopes.ts';

/** The database knows only the hash of a key. The key itself is random, so a plain hash is enough. */
const keyHash = (key: string): string => createHash('sha256').update(key).digest('hex');

/** How long a key can last, in days; nothing typed: until it is ended. */
const longestDays = 3_650;

/** What a key is made with: who holds it, what it may do, how long and how often. */
export const newKeySchema = z.object({
  name: text('the name of the instrument or program', 80),
  scopes: many()
    .pipe(z.array(z.enum(scopeCodes, 'Choose from the list.')))
    .transform((chosen) => (chosen.length === 0 ? ['readings'] : [...new Set(chosen)])),
  days: optionalNumber({ what: 'the days', low: 1, high: longestDays }),
  perMinute: optionalNumber({ what: 'the requests a minute', low: 1, high: 600_000 }).transform((typed) =>
    Math.round(typed ?? usualRate),
  ),
});

/** Ample for a farm of probes, little for a program that runs wild (own choice). */
export const usualRate = 6_000;

/** An access key as the list shows it; the key itself is shown once, when it is made. */
export interface AccessKeyRow {
  id: string;
  name: string;
  hint: string;
  createdAt: Date;
  lastUsedAt: Date | null;
  endedAt: Date | null;
  expiresAt: Date | null;
  scopes: string[];
  perMinute: number;
  /** Whose key it is; null where it came from another installation. */
  account: { name: string; role: Role; disabledAt: Date | null } | null;
}

/** Every access key, those in use first. */
export async function listKeys(db: Reader): Promise<AccessKeyRow[]> {
  const { accessKey } = db;
  return accessKey.findMany({
    select: {
      ...{ id: true, name: true, hint: true, createdAt: true, lastUsedAt: true, endedAt: true },
      ...{ expiresAt: true, scopes: true, perMinute: true },
      account: { select: { name: true, role: true, disabledAt: true } },
    },
    orderBy: [{ endedAt: { sort: 'desc', nulls: 'first' } }, { name: 'asc' }],
  });
}

const hintSigns = 7;

/** Makes a key of 256 random bits. It is in the answer and nowhere else. */
export async function addKey(
  work: Work,
  { name, siteId, scopes, days, perMinute }: z.output<typeof newKeySchema> & { siteId: string },
): Promise<{ id: string; secret: string }> {
  const key = `ew_${randomBytes(32).toString('base64url')}`;
  const data = {
    name,
    hash: keyHash(key),
    hint: key.slice(0, hintSigns),
    accountId: work.accountId,
    siteId,
    createdAt: work.now,
    expiresAt: days === null ? null : new Date(work.now.getTime() + days * dayMs),
    ...{ scopes, perMinute },
  };
  const { id } = await work.tx.accessKey.create({ data });
  work.record('access_key.made', { type: 'access_key', id }, { name, scopes, days });
  return { id, secret: key };
}

/** Ends a key: what it posted stays. @throws Refusal 404; 409 when it is ended already */
export async function endKey(work: Work, id: string): Promise<{ name: string }> {
  const key = await work.tx.accessKey.findUnique({ where: { id } });
  if (key === null) throw notFound('This key');
  if (key.endedAt !== null) throw new Refusal('This key was ended already.', { status: 409 });
  await work.tx.accessKey.update({ where: { id }, data: { endedAt: work.now } });
  work.record('access_key.ended', { type: 'access_key', id }, { name: key.name });
  return { name: key.name };
}

const holder = `
  WITH found AS (SELECT * FROM access_key
                  WHERE hash = $1 AND ended_at IS NULL AND (expires_at IS NULL OR expires_at > $2::timestamptz)),
       used AS (UPDATE access_key SET last_used_at = $2
                 WHERE id IN (SELECT id FROM found WHERE last_used_at IS NULL OR last_used_at < $2::timestamptz - interval '1 minute'))
  SELECT id, name, site_id AS "siteId", account_id AS "accountId", scopes, per_minute AS "perMinute" FROM found`;

/**
 * Who holds an access key, and that it was used (to a minute); null when it is unknown, has run out or was ended. One
 * query.
 */
export async function keyHolder(pool: pg.Pool, key: string, now: Date): Promise<Machine | null> {
  const { rows } = await pool.query<Machine>(holder, [keyHash(key), now]);
  return rows[0] ?? null;
}
