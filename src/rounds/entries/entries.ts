import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import type { Prisma } from '../../generated/prisma/client.ts';
import { change, type Work } from '../../platform/change.ts';
import { isDatabaseAway } from '../../platform/database/away.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { type Entry, entrySchema, type KeyedEntry, keyedEntry } from './entries.schema.ts';
import { type Applied, applyEntry } from './entry-effects.ts';
import { type Tap, tapTime } from './tap-time.rules.ts';

/** What became of one entry that a tablet sent. */
export interface Answer {
  id: string;
  outcome: 'taken' | 'there' | 'refused';
  /** Why it was not taken, for a person to mend. */
  why?: string;
  /** Of a refused one: whether the service holds what was typed. Where not, only the tablet does. */
  held?: boolean;
}

/** Who sends entries for which round, and what the device's clock shows. */
export interface EntrySender {
  roundId: string;
  by: string;
  /** Who else signs in on the enrolled tablet that sends: what they noted before somebody else took over stays theirs. */
  sharedWith: ReadonlySet<string>;
  deviceNow: Date | null;
}

type EntryRow = Prisma.RoundEntryUncheckedCreateInput;

/** Saves the row under its key, after any other request that is writing the same key. False when the key is saved already. */
async function claimKey(work: Work, row: EntryRow): Promise<boolean> {
  const { count } = await work.tx.roundEntry.createMany({ data: [row], skipDuplicates: true });
  return count === 1;
}

/** @throws Refusal when the key stands for something else, or for what was refused before */
async function refuseReusedKey(work: Work, roundId: string, entry: Entry): Promise<void> {
  const earlier = await work.tx.roundEntry.findUniqueOrThrow({ where: { id: entry.id } });
  if (earlier.kind === 'refused' && earlier.roundId === roundId) {
    throw new Refusal((earlier.detail as { why?: string }).why ?? 'This was not taken before.');
  }
  // Taken back before it came, or since.
  if (earlier.kind === 'taken_back' && earlier.roundId === roundId) return;
  if (earlier.roundId !== roundId || earlier.kind !== entry.kind) {
    throw new Refusal('This key was used for something else. Enter it again.', { status: 409 });
  }
}

/**
 * Saves one entry of a round and does what it says: records the condition, the count, the feeding. An entry whose key
 * was saved before changes nothing, however late it is sent again.
 * @param sentBy who sent it for its author from a tablet that both use
 * @returns false when it was saved before
 * @throws Refusal 404 (no such round, rack, lot), or what stock and water refuse
 */
export async function noteEntry(
  work: Work,
  roundId: string,
  entry: Entry,
  tap: Tap,
  sentBy: string | null = null,
): Promise<boolean> {
  const round = await work.tx.round.findUnique({ where: { id: roundId } });
  if (round === null) throw notFound('This round');
  const { at, clock } = tapTime(tap, round, work.now);
  const claimed = await claimKey(work, {
    id: entry.id,
    roundId,
    kind: entry.kind,
    at,
    receivedAt: work.now,
    accountId: work.accountId,
    detail: {},
  });
  if (!claimed) {
    await refuseReusedKey(work, roundId, entry);
    work.record('round_entry.sent_again', { type: 'round_entry', id: entry.id });
    return false;
  }
  const applied = await applyEntry(work, round, entry, at);
  await saveApplied(work, entry, applied, { clock, sentBy });
  return true;
}

async function saveApplied(
  work: Work,
  entry: Entry,
  applied: Applied,
  { clock, sentBy }: { clock: string | null; sentBy: string | null },
): Promise<void> {
  const { detail, ...subjects } = applied;
  const saved = {
    ...detail,
    ...(entry.label === '' ? {} : { label: entry.label }),
    ...(clock === null ? {} : { clock }),
    ...(sentBy === null ? {} : { sentBy }),
    ...(await notedBySomebodyElse(work, entry.notedBy)),
  };
  await work.tx.roundEntry.update({
    where: { id: entry.id },
    data: { ...subjects, detail: JSON.parse(JSON.stringify(saved)) as Prisma.InputJsonObject },
  });
  if (entry.mends !== null) await mendEarlier(work, entry.mends, entry.id);
}

/** Closes what this entry puts right. A tablet may name one that the service never held; one that was taken stands. */
async function mendEarlier(work: Work, id: string, mendedBy: string): Promise<void> {
  const earlier = await work.tx.roundEntry.findUnique({ where: { id }, select: { kind: true } });
  if (earlier === null) return;
  if (earlier.kind !== 'refused')
    throw new Refusal('The note that this one replaces was taken after all. Correct it on its own page.', {
      status: 409,
    });
  await closeRefused(work, id, { with: mendedBy });
}

/** The name of who tapped it, where somebody else sends it: the tablet changed hands before it was sent. */
async function notedBySomebodyElse(work: Work, notedBy: string | null): Promise<{ notedBy?: string }> {
  if (notedBy === null || notedBy === work.accountId) return {};
  const other = await work.tx.account.findUnique({ where: { id: notedBy }, select: { name: true } });
  return other === null ? {} : { notedBy: other.name };
}

/** Marks an entry that was refused as mended by another entry, or as left out and why. @throws Refusal 404 */
export async function closeRefused(
  work: Work,
  id: string,
  how: { with: string } | { why: string },
): Promise<void> {
  const refused = await work.tx.roundEntry.findFirst({ where: { id, kind: 'refused' } });
  if (refused === null) throw notFound('This note');
  const detail = {
    ...(refused.detail as Prisma.JsonObject),
    mended: { at: work.now.toISOString(), by: work.accountId, ...how },
  };
  await work.tx.roundEntry.update({ where: { id }, data: { detail } });
  work.record('round_entry.mended', { type: 'round_entry', id }, how);
}

/**
 * Takes what a tablet sends, in its order, each entry in a transaction of its own. One that is refused, or at which the
 * service itself fails, is saved with its reason, and the next ones are still taken.
 * @throws Refusal 404 when there is no such round
 */
export async function takeEntries(
  service: Service,
  sender: EntrySender,
  list: readonly unknown[],
): Promise<Answer[]> {
  if ((await service.db.round.count({ where: { id: sender.roundId } })) === 0) throw notFound('This round');
  const answers: Answer[] = [];
  for (const sent of list) {
    const keyed = keyedEntry.safeParse(sent);
    answers.push(keyed.success ? await takeOne(service, sender, keyed.data) : keyless(sent));
  }
  return answers;
}

/** Without a key it cannot be told from a repeat, so the tablet holds it on. */
function keyless(sent: unknown): Answer {
  const id = String((sent as { id?: unknown } | null)?.id ?? '');
  const why = 'This note has no key that the service can use. Enter it again.';
  return { id, outcome: 'refused', why, held: false };
}

/** Who made an entry: whoever noted it, where the tablet is one they share; else who sends it. */
const authorOf = ({ by, sharedWith }: EntrySender, { notedBy }: KeyedEntry): string =>
  typeof notedBy === 'string' && sharedWith.has(notedBy) ? notedBy : by;

async function takeOne(service: Service, sender: EntrySender, sent: KeyedEntry): Promise<Answer> {
  const { roundId, by, deviceNow } = sender;
  const author = authorOf(sender, sent);
  const sentBy = author === by ? null : by;
  try {
    const parsed = entrySchema.safeParse(sent);
    if (!parsed.success)
      throw new Refusal(
        fieldErrors(parsed.error)
          .map((error) => error.message)
          .join(' '),
      );
    const entry = parsed.data;
    const at = entry.at == null ? null : new Date(entry.at);
    const taken = await change(service, { accountId: author }, (work) =>
      noteEntry(work, roundId, entry, { at, deviceNow }, sentBy),
    );
    return { id: sent.id, outcome: taken ? 'taken' : 'there' };
  } catch (error) {
    if (isDatabaseAway(error)) throw error;
    return setAside(service, sender, sent, error);
  }
}

const failedHere =
  'The service failed at this note, and nothing of it was done. It is kept as it was typed: enter it again, or leave it out.';

/** Keeps what was not taken. Where even that fails, the tablet is told to hold it. @throws when the database is away */
async function setAside(
  service: Service,
  sender: EntrySender,
  sent: KeyedEntry,
  error: unknown,
): Promise<Answer> {
  const known = error instanceof Refusal;
  if (!known) service.log.error({ err: error, entry: sent.id }, 'an entry of a round failed');
  const refusal = known ? error : new Refusal(failedHere);
  const answer = { id: sent.id, outcome: 'refused' as const, why: refusal.message };
  try {
    return { ...answer, held: await saveRefused(service, sender, sent, refusal) };
  } catch (failure) {
    if (isDatabaseAway(failure)) throw failure;
    service.log.error({ err: failure, entry: sent.id }, 'a refused entry could not be kept');
    return { ...answer, held: false };
  }
}

/** Whether it is refused only until somebody says that it is really so. */
const isDoubtful = ({ fields }: Refusal) =>
  fields.length > 0 && fields.every(({ field }) => field.endsWith('-sure'));

/** The lot that a refused note was about, by what was sent; null where it was about none. */
function lotMeant({ kind, lotId }: Record<string, unknown>): string | null {
  return kind === 'condition' || kind === 'count' ? (z.uuid().safeParse(lotId).data ?? null) : null;
}

/** @returns whether it is kept: not where its key stands for something else that was taken */
async function saveRefused(
  service: Service,
  sender: EntrySender,
  sent: KeyedEntry,
  refusal: Refusal,
): Promise<boolean> {
  const { roundId, deviceNow } = sender;
  const author = authorOf(sender, sent);
  return change(service, { accountId: author }, async (work) => {
    const why = refusal.message;
    const asks = isDoubtful(refusal) ? { asks: true } : {};
    const detail = JSON.parse(JSON.stringify({ sent, why, ...asks })) as Prisma.InputJsonObject;
    const round = await work.tx.round.findUniqueOrThrow({ where: { id: roundId } });
    const tapped = z.iso.datetime({ offset: true }).safeParse(sent.at).data;
    const { at } = tapTime(
      { at: tapped === undefined ? null : new Date(tapped), deviceNow },
      round,
      work.now,
    );
    const row = {
      id: sent.id,
      roundId,
      kind: 'refused',
      lotId: lotMeant(sent),
      at,
      receivedAt: work.now,
      accountId: author,
      detail,
    };
    const isNew = await claimKey(work, row);
    const what = isNew ? 'round_entry.refused' : 'round_entry.sent_again';
    work.record(what, { type: 'round_entry', id: sent.id }, { why });
    const standing = { id: sent.id, roundId, kind: 'refused' };
    return isNew || (await work.tx.roundEntry.count({ where: standing })) === 1;
  });
}

/**
 * Takes a reading that was refused because it is unlikely, once a person confirms it. It keeps the time it was tapped.
 * @throws Refusal 404 when there is no such note, or it was mended already
 */
export async function acceptDoubtful(work: Work, id: string): Promise<void> {
  const refused = await work.tx.roundEntry.findFirst({ where: { id, kind: 'refused' } });
  const detail = (refused?.detail ?? {}) as { sent?: object; asks?: boolean; mended?: object };
  if (refused === null || detail.asks !== true || detail.mended !== undefined) throw notFound('This note');
  const again = { ...detail.sent, id: uuidv7(), sure: 'yes', mends: id };
  const entry = entrySchema.parse(again);
  await noteEntry(work, refused.roundId, entry, { at: refused.at, deviceNow: work.now });
}
