import { randomBytes } from 'node:crypto';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader, Service } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lockLot } from '../../stock/base/lot-lock.ts';
import { newestPhoto } from '../../stock/lots/photos.ts';
import { sellSingle } from '../../stock/orders/single.ts';
import { passGate } from '../../stock/pests/gate.ts';
import { loadTagFacts } from '../record/facts.ts';
import { composeRecord } from '../record/record.rules.ts';
import type { TagRecord } from '../record/record.ts';
import { canonicalText, isUnchanged, sign } from '../record/signing.ts';

export interface NewTag {
  lot: string;
  pieces: number;
  reason: string;
  /** Takes the pieces off the count at once, as sold to this buyer ('' when nobody says), out of this hold. */
  sold: boolean;
  buyer: string;
  holdId: string | null;
  /** Buyers see no photo of the lot. */
  hidePhoto?: boolean;
}

/**
 * Freezes what pieces of a lot lived in, signed, under an unguessable address (128 bits of chance).
 * @throws Refusal when there are not that many pieces; when an alert is open on the lot and no reason is given
 */
export async function issueTag(service: Service, work: Work, input: NewTag): Promise<{ id: string }> {
  const facts = await loadTagFacts(service, input.lot, work.now);
  const { lot, openAlerts } = facts;
  // Held until the tag is kept: pieces that are sold or lost meanwhile get none.
  const { pieces } = await lockLot(work.tx, lot.id);
  if (input.pieces > pieces) {
    const message = `There are only ${plural(pieces, 'piece', 'pieces')} of ${lot.code}. Enter at most that.`;
    throw new Refusal(message, { field: 'pieces' });
  }
  const [alert] = openAlerts;
  if (alert !== undefined && input.reason === '') {
    throw new Refusal(`An alert is open on this lot: ${alert.title}. Say why its pieces are tagged anyway.`, {
      field: 'reason',
    });
  }
  await passGate(work, 'tag', [{ lotId: lot.id, code: lot.code }], {
    despite: input.reason,
    field: 'reason',
  });
  const record = canonicalText(composeRecord(facts, input.pieces, work.now));
  const signature = await sign(service.db, record);
  const photo = input.hidePhoto === true ? null : await newestPhoto(work.tx, lot.id, work.now);
  const token = randomBytes(16).toString('base64url');
  const { id } = await work.tx.tag.create({
    data: {
      token,
      lotId: lot.id,
      pieces: input.pieces,
      issuedAt: work.now,
      accountId: work.accountId,
      record,
      signature,
      reason: input.reason,
      photoChosen: true,
      photoId: photo?.id ?? null,
    },
  });
  work.record(
    'tag.issued',
    { type: 'tag', id },
    { lot: lot.code, pieces: input.pieces, reason: input.reason },
  );
  if (input.sold) {
    const { pieces, buyer, holdId } = input;
    const sale = {
      lotId: lot.id,
      pieces,
      buyer,
      at: work.now,
      note: '',
      tagId: id,
      holdId,
      despite: input.reason,
    };
    const { timeZone } = await work.tx.site.findUniqueOrThrow({ where: { id: lot.siteId } });
    await sellSingle(work, timeZone, sale);
  }
  return { id };
}

/** Marks a tag as withdrawn: its page then says so. @throws Refusal 404; 409 when it already is */
export async function withdrawTag(work: Work, id: string, reason: string): Promise<void> {
  const changed = await work.tx.tag.updateMany({
    where: { id, withdrawnAt: null },
    data: { withdrawnAt: work.now, withdrawnReason: reason },
  });
  if (changed.count === 0) throw new Refusal('This tag is already withdrawn, or not there.', { status: 409 });
  work.record('tag.withdrawn', { type: 'tag', id }, { reason });
}

/** A tag with its record read back and its signature checked. */
export interface ReadTag {
  id: string;
  lotId: string;
  token: string;
  pieces: number;
  issuedAt: Date;
  photoId: string | null;
  photoChosen: boolean;
  reason: string;
  withdrawnAt: Date | null;
  withdrawnReason: string | null;
  record: TagRecord;
  unchanged: boolean;
}

/** @throws Refusal 404 */
export async function readTag(service: Service, where: { id: string } | { token: string }): Promise<ReadTag> {
  const tag = await service.db.tag.findUnique({ where });
  if (tag === null) throw notFound('This tag');
  const unchanged = await isUnchanged(service.db, tag.record, tag.signature);
  return { ...tag, record: JSON.parse(tag.record) as TagRecord, unchanged };
}

export interface ListedTag {
  id: string;
  token: string;
  code: string;
  ownCode: string;
  kind: string;
  pieces: number;
  issuedAt: Date;
  withdrawnAt: Date | null;
}

/** A site's tags, the newest first, from the given one on. */
export async function listTags(
  service: Service,
  siteId: string,
  { skip, take }: { skip: number; take: number },
): Promise<ListedTag[]> {
  const include = { lot: { select: { code: true, ownCode: true, kind: { select: { name: true } } } } };
  const tags = await service.db.tag.findMany({
    where: { lot: { siteId } },
    include,
    orderBy: [{ issuedAt: 'desc' }, { id: 'desc' }],
    skip,
    take,
  });
  return tags.map(({ lot, ...tag }) => ({
    ...tag,
    code: lot.code,
    ownCode: lot.ownCode,
    kind: lot.kind.name,
  }));
}

/** Tags by id, named for a list, in the order asked for; those that are not there are left out. */
export async function namedTags(
  db: Reader,
  ids: readonly string[],
): Promise<{ id: string; code: string; ownCode: string; pieces: number; withdrawn: boolean }[]> {
  const valid = ids.filter((id) => z.uuid().safeParse(id).success);
  const tags = await db.tag.findMany({
    where: { id: { in: valid } },
    select: { id: true, pieces: true, withdrawnAt: true, lot: { select: { code: true, ownCode: true } } },
  });
  const byId = new Map(tags.map((tag) => [tag.id, tag]));
  return valid.flatMap((id) => {
    const tag = byId.get(id);
    if (tag === undefined) return [];
    return [{ id, ...tag.lot, pieces: tag.pieces, withdrawn: tag.withdrawnAt !== null }];
  });
}

/** A tag's record as a signed text (JWS, RFC 7515). @throws Refusal 404 */
export async function tagSignature(db: Reader, token: string): Promise<string> {
  const tag = await db.tag.findUnique({ where: { token } });
  if (tag === null) throw notFound('This tag');
  return tag.signature;
}
