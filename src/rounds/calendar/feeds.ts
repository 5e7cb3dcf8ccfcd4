import { createHash, randomBytes } from 'node:crypto';
import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';

const hashOf = (token: string): string => createHash('sha256').update(token).digest('hex');

/** The address that somebody has of a site; null where there is none. */
export const ownFeed = (db: Reader, accountId: string, siteId: string) =>
  db.calendarFeed.findFirst({
    where: { accountId, siteId, endedAt: null },
    select: { id: true, createdAt: true, lastAskedAt: true },
  });

/** Makes a secret address of 256 random bits, and ends the one before it. The secret is in the answer and nowhere else. */
export async function makeFeed(work: Work, siteId: string): Promise<{ id: string; secret: string }> {
  const { accountId } = work;
  if (accountId === null) throw new Error('a calendar is made by a person');
  await work.tx.calendarFeed.updateMany({
    where: { accountId, siteId, endedAt: null },
    data: { endedAt: work.now },
  });
  const secret = randomBytes(32).toString('base64url');
  const data = { accountId, siteId, hash: hashOf(secret), createdAt: work.now };
  const { id } = await work.tx.calendarFeed.create({ data });
  work.record('calendar.made', { type: 'site', id: siteId });
  return { id, secret };
}

/** Ends somebody's own address. @throws Refusal 409 where there is none */
export async function endFeed(work: Work, siteId: string): Promise<void> {
  const { count } = await work.tx.calendarFeed.updateMany({
    where: { accountId: work.accountId ?? '', siteId, endedAt: null },
    data: { endedAt: work.now },
  });
  if (count === 0) throw new Refusal('There is no calendar address to end.', { status: 409 });
  work.record('calendar.ended', { type: 'site', id: siteId });
}

/** Whose site a calendar is about. */
export interface FeedSite {
  siteId: string;
  siteName: string;
  timeZone: string;
}

// Only as long as the person may sign in and belongs to the site.
const feed = `
  WITH found AS (
    SELECT feed.id, site.id AS "siteId", site.name AS "siteName", site.time_zone AS "timeZone", feed.last_asked_at AS asked
      FROM calendar_feed AS feed JOIN account ON account.id = feed.account_id JOIN site ON site.id = feed.site_id
     WHERE feed.hash = $1 AND feed.ended_at IS NULL AND account.disabled_at IS NULL
       AND (account.role = 'owner' OR EXISTS (SELECT FROM site_person WHERE account_id = account.id AND site_id = site.id)
            OR NOT EXISTS (SELECT FROM site_person WHERE account_id = account.id))),
       noted AS (UPDATE calendar_feed SET last_asked_at = $2
                  WHERE id IN (SELECT id FROM found WHERE asked IS NULL OR asked < $2::timestamptz - interval '1 minute'))
  SELECT "siteId", "siteName", "timeZone" FROM found`;

/** Which site the calendar at an address is about. One query. @throws Refusal 404 where it is none (any more) */
export async function siteOfFeed(pool: pg.Pool, token: string, now: Date): Promise<FeedSite> {
  const { rows } = await pool.query<FeedSite>(feed, [hashOf(token), now]);
  const [site] = rows;
  if (site === undefined) throw notFound('This calendar');
  return site;
}
