import { siteUnits } from '../farm/page-context.ts';
import { ownUnits } from '../people/page-context.ts';
import { change, type Work } from '../platform/change.ts';
import { linkBase } from '../platform/link-base.ts';
import { sendLetter, Undelivered } from '../platform/mail.ts';
import { notFound } from '../platform/refusal.ts';
import type { Reader, Service } from '../platform/service.ts';
import { type ChosenUnits, inUnits, unitsOf } from '../platform/units/units.ts';
import { findDigest } from './digests.ts';
import { nextTry } from './letters.rules.ts';
import { digestLetter, messageId } from './mail.ts';

interface MissingLetter {
  siteId: string;
  timeZone: string;
  day: string;
  /** Which making of the digest is to be sent. */
  version: number;
  receiverId: string;
  name: string;
  email: string;
  /** What the account with this address chose; null where none has it. */
  own: ChosenUnits | null;
  siteUnits: ChosenUnits;
}

// A receiver gets the digests made since they are on the list; an old one is not sent after a day.
const unwrittenQuery = `
  SELECT site.id AS "siteId", site.time_zone AS "timeZone", digest.day::text AS day, digest.mail_version AS version, receiver.id AS "receiverId",
         receiver.name, receiver.email, ${siteUnits} AS "siteUnits",
         (SELECT ${ownUnits('account')} FROM account WHERE lower(account.email) = lower(receiver.email)
             AND account.disabled_at IS NULL LIMIT 1) AS own
    FROM digest
    JOIN site ON site.id = digest.site_id
    JOIN digest_receiver AS receiver ON site.id = ANY(receiver.site_ids)
   CROSS JOIN LATERAL (SELECT CASE WHEN digest.mail_version > 1 THEN digest.made_again_at ELSE digest.made_at END AS at) AS made
   WHERE made.at > $1::timestamptz - interval '1 day' AND made.at <= $1
     AND receiver.stopped_at IS NULL AND receiver.created_at <= made.at
     AND NOT EXISTS (SELECT 1 FROM letter WHERE letter.digest_id = digest.id AND letter.receiver_id = receiver.id
                        AND letter.version = digest.mail_version)
   ORDER BY receiver.id`;

/** The address at which a receiver stops the digest. */
export const leaveAddress = (base: string, receiverId: string): string =>
  new URL(`/digest/receivers/${receiverId}/end`, base).href;

/** Writes a letter for each receiver of a new digest; once each, however many instances do so. */
export async function writeLetters(service: Service, now: Date): Promise<number> {
  const { rows } = await service.pool.query<MissingLetter>(unwrittenQuery, [now]);
  const base = linkBase(service.config);
  for (const { receiverId, name, email, day, version, siteId, timeZone, own, ...site } of rows) {
    const to = { name, email, leave: leaveAddress(base, receiverId) };
    const { digest, raw } = await inUnits(unitsOf(own ?? {}, site.siteUnits), async () => {
      const read = await findDigest(service, siteId, day);
      return { digest: read, raw: await digestLetter(service, { id: siteId, timeZone }, read, to) };
    });
    await change({ ...service, now: () => now }, { accountId: null }, async (work) => {
      const data = {
        digestId: digest.id,
        receiverId,
        version,
        messageId: messageId(digest, email, base),
        raw: new Uint8Array(raw),
        createdAt: now,
        nextAt: now,
      };
      const { count } = await work.tx.letter.createMany({ data, skipDuplicates: true });
      work.record(
        count === 1 ? 'letter.written' : 'letter.found',
        { type: 'digest', id: digest.id },
        { to: email },
      );
    });
  }
  return rows.length;
}

interface Waiting {
  id: string;
  email: string;
  raw: Buffer;
  attempts: number;
}

/** The next letter that waits; locked, so that no other instance sends it at the same time. */
async function takeNext(work: Work): Promise<Waiting | null> {
  const rows = await work.tx.$queryRaw<Waiting[]>`
    SELECT letter.id, receiver.email, letter.raw, letter.attempts
      FROM letter JOIN digest_receiver AS receiver ON receiver.id = letter.receiver_id
     WHERE letter.sent_at IS NULL AND letter.given_up_at IS NULL AND letter.next_at <= ${work.now}
     ORDER BY letter.next_at, letter.id LIMIT 1 FOR UPDATE OF letter SKIP LOCKED`;
  return rows[0] ?? null;
}

/** Sends one letter that waits and writes down how it went. @throws NoneWaits */
async function sendNext(service: Service, now: Date): Promise<void> {
  await change({ ...service, now: () => now }, { accountId: null }, async (work) => {
    const letter = await takeNext(work);
    if (letter === null) throw new NoneWaits();
    const subject = { type: 'letter' as const, id: letter.id };
    const attempts = letter.attempts + 1;
    try {
      await sendLetter(service.config, letter.email, Buffer.from(letter.raw));
      await work.tx.letter.update({
        where: { id: letter.id },
        data: { sentAt: now, attempts, lastError: '' },
      });
      work.record('letter.sent', subject, { to: letter.email });
    } catch (error) {
      if (!(error instanceof Undelivered)) throw error;
      const nextAt = nextTry(attempts, error.forGood, now);
      const data = nextAt === null ? { givenUpAt: now } : { nextAt };
      await work.tx.letter.update({
        where: { id: letter.id },
        data: { ...data, attempts, lastError: error.message },
      });
      work.record('letter.failed', subject, {
        to: letter.email,
        error: error.message,
        givenUp: nextAt === null,
      });
    }
  });
}

/** Ends a change in which there was nothing to do, without a trace. */
class NoneWaits extends Error {}

/** Sends what waits, one after the other; without a mail server letters stay as files. */
export async function sendLetters(service: Service, now: Date): Promise<number> {
  if (service.config.SMTP_URL === undefined) return 0;
  for (let sent = 0; ; sent++) {
    try {
      await sendNext(service, now);
    } catch (error) {
      if (error instanceof NoneWaits) return sent;
      throw error;
    }
  }
}

/** How a digest's letters went. */
export interface LetterStatus {
  id: string;
  name: string;
  email: string;
  attempts: number;
  sentAt: Date | null;
  givenUpAt: Date | null;
  nextAt: Date;
  lastError: string;
}

/** The letters of one digest, by name of who gets them. */
export async function lettersOf(service: Service, digestId: string): Promise<LetterStatus[]> {
  const rows = await service.db.letter.findMany({
    where: { digestId },
    include: { receiver: { select: { name: true, email: true } } },
    omit: { raw: true },
  });
  return rows
    .map(({ receiver, ...letter }) => ({ ...letter, ...receiver }))
    .sort((a, b) => a.name.localeCompare(b.name));
}

/** A letter as it was sent or waits to be sent (RFC 5322). @throws Refusal 404 */
export async function letterText(db: Reader, id: string) {
  const letter = await db.letter.findUnique({ where: { id } });
  if (letter === null) throw notFound('This letter');
  return letter.raw;
}
