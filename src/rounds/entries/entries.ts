import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import type { Prisma } from '../../generated/prisma/client.ts';
import { change, type Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/web/forms.ts';
import { type Entry, entrySchema } from './entries.schema.ts';
import { type Applied, applyEntry } from './entry-effects.ts';
import { type Tap, tapTime } from './tap-time.rules.ts';

/** What became of one entry that a tablet sent. */
export interface Answer {
  id: string;
  outcome: 'taken' | 'there' | 'refused';
  /** Why it was not taken, for a person to mend. */
  why?: string;
}

/** Who sends entries for which round, and what the device's clock shows. */
export interface EntrySender {
  roundId: string;
  by: string;
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
  if (earlier.roundId !== roundId || earlier.kind !== entry.kind) {
    throw new Refusal('This key was used for something else. Enter it anew.', { status: 409 });
  }
}

/**
 * Saves one entry of a round and does what it says: records the condition, the count, the feeding. An entry whose key
 * was saved before changes nothing, however late it is sent again.
 * @returns false when it was saved before
 * @throws Refusal 404 (no such round, rack, lot), or what stock and water refuse
 */
export async function noteEntry(work: Work, roundId: string, entry: Entry, tap: Tap): Promise<boolean> {
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
  await saveApplied(work, entry, applied, clock);
  return true;
}

async function saveApplied(work: Work, entry: Entry, applied: Applied, clock: string | null): Promise<void> {
  const { detail, ...subjects } = applied;
  const saved = {
    ...detail,
    ...(entry.label === '' ? {} : { label: entry.label }),
    ...(clock === null ? {} : { clock }),
    ...(await notedBySomebodyElse(work, entry.notedBy)),
  };
  await work.tx.roundEntry.update({
    where: { id: entry.id },
    data: { ...subjects, detail: JSON.parse(JSON.stringify(saved)) as Prisma.InputJsonObject },
  });
  if ('mends' in entry && entry.mends !== null) await closeRefused(work, entry.mends, entry.id);
}

/** The name of who tapped it, where somebody else sends it: the tablet changed hands before it was sent. */
async function notedBySomebodyElse(work: Work, notedBy: string | null): Promise<{ notedBy?: string }> {
  if (notedBy === null || notedBy === work.accountId) return {};
  const other = await work.tx.account.findUnique({ where: { id: notedBy }, select: { name: true } });
  return other === null ? {} : { notedBy: other.name };
}

/** Marks an entry that was refused as mended: by another entry, or (null) left out. @throws Refusal 404 */
export async function closeRefused(work: Work, id: string, mendedBy: string | null): Promise<void> {
  const refused = await work.tx.roundEntry.findFirst({ where: { id, kind: 'refused' } });
  if (refused === null) throw notFound('This note');
  const detail = {
    ...(refused.detail as Prisma.JsonObject),
    mended: { at: work.now.toISOString(), by: work.accountId, with: mendedBy },
  };
  await work.tx.roundEntry.update({ where: { id }, data: { detail } });
  work.record('round_entry.mended', { type: 'round_entry', id }, { with: mendedBy });
}

/**
 * Takes what a tablet sends, in its order, each entry in a transaction of its own. One that is refused is saved with
 * its reason, and the next ones are still taken.
 * @throws Refusal 404 when there is no such round
 */
export async function takeEntries(
  service: Service,
  sender: EntrySender,
  list: readonly ({ id: string } & Record<string, unknown>)[],
): Promise<Answer[]> {
  if ((await service.db.round.count({ where: { id: sender.roundId } })) === 0) throw notFound('This round');
  const answers: Answer[] = [];
  for (const sent of list) answers.push(await takeOne(service, sender, sent));
  return answers;
}

async function takeOne(
  service: Service,
  sender: EntrySender,
  sent: { id: string } & Record<string, unknown>,
): Promise<Answer> {
  const { roundId, by, deviceNow } = sender;
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
    const taken = await change(service, { accountId: by }, (work) =>
      noteEntry(work, roundId, entry, { at, deviceNow }),
    );
    return { id: sent.id, outcome: taken ? 'taken' : 'there' };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    await saveRefused(service, sender, sent, error);
    return { id: sent.id, outcome: 'refused', why: error.message };
  }
}

/** Whether it is refused only until somebody says that it is really so. */
const isDoubtful = ({ fields }: Refusal) =>
  fields.length > 0 && fields.every(({ field }) => field.endsWith('-sure'));

async function saveRefused(
  service: Service,
  { roundId, by, deviceNow }: EntrySender,
  sent: { id: string; at?: unknown },
  refusal: Refusal,
): Promise<void> {
  await change(service, { accountId: by }, async (work) => {
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
    const row = { id: sent.id, roundId, kind: 'refused', at, receivedAt: work.now, accountId: by, detail };
    const what = (await claimKey(work, row)) ? 'round_entry.refused' : 'round_entry.sent_again';
    work.record(what, { type: 'round_entry', id: sent.id }, { why });
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
