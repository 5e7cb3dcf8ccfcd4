import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import type { Prisma } from '../../generated/prisma/client.ts';
import { change, type Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/web/forms.ts';
import { type Tap, tapTime } from './clock.rules.ts';
import { type Entry, entrySchema } from './entries.schema.ts';
import { type Applied, applyEntry } from './entry-effects.ts';

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

type Keep = Prisma.RoundEntryUncheckedCreateInput;

/** Takes the key for good; another request that holds it is waited for. False when the entry is there already. */
async function claim(work: Work, row: Keep): Promise<boolean> {
  const { count } = await work.tx.roundEntry.createMany({ data: [row], skipDuplicates: true });
  return count === 1;
}

/** @throws Refusal when the key stands for something else, or for what was refused before */
async function meetEarlier(work: Work, roundId: string, entry: Entry): Promise<void> {
  const earlier = await work.tx.roundEntry.findUniqueOrThrow({ where: { id: entry.id } });
  if (earlier.kind === 'refused' && earlier.roundId === roundId) {
    throw new Refusal((earlier.detail as { why?: string }).why ?? 'This was not taken before.');
  }
  if (earlier.roundId !== roundId || earlier.kind !== entry.kind) {
    throw new Refusal('This key was used for something else. Enter it anew.', { status: 409 });
  }
}

/**
 * Notes one entry of a round with all it means: the condition, the count, the feeding. An entry whose key is there
 * already changes nothing, for ever.
 * @returns false when it was there already
 * @throws Refusal 404 (no such round, rack, lot), or what stock and water refuse
 */
export async function noteEntry(work: Work, roundId: string, entry: Entry, tap: Tap): Promise<boolean> {
  const round = await work.tx.round.findUnique({ where: { id: roundId } });
  if (round === null) throw notFound('This round');
  const { at, clock } = tapTime(tap, round, work.now);
  const claimed = await claim(work, {
    id: entry.id,
    roundId,
    kind: entry.kind,
    at,
    receivedAt: work.now,
    accountId: work.accountId,
    detail: {},
  });
  if (!claimed) {
    await meetEarlier(work, roundId, entry);
    work.record('round_entry.sent_again', { type: 'round_entry', id: entry.id });
    return false;
  }
  const applied = await applyEntry(work, round, entry, at);
  await keepApplied(work, entry, applied, clock);
  return true;
}

async function keepApplied(work: Work, entry: Entry, applied: Applied, clock: string | null): Promise<void> {
  const { detail, ...subjects } = applied;
  const told = {
    ...detail,
    ...(entry.label === '' ? {} : { label: entry.label }),
    ...(clock === null ? {} : { clock }),
    ...(await whoNoted(work, entry.notedBy)),
  };
  await work.tx.roundEntry.update({
    where: { id: entry.id },
    data: { ...subjects, detail: JSON.parse(JSON.stringify(told)) as Prisma.InputJsonObject },
  });
  if ('mends' in entry && entry.mends !== null) await closeRefused(work, entry.mends, entry.id);
}

/** Who tapped it, if that was not who sends it: a tablet that changed hands meanwhile. */
async function whoNoted(work: Work, notedBy: string | null): Promise<{ notedBy?: string }> {
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
 * Takes what a tablet sends, in its order, each entry in a transaction of its own: one that is refused is kept with
 * its reason and stands in nobody's way.
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
    await keepRefused(service, sender, sent, error);
    return { id: sent.id, outcome: 'refused', why: error.message };
  }
}

/** Whether it is refused only until somebody says that it is really so. */
const isDoubt = ({ fields }: Refusal) =>
  fields.length > 0 && fields.every(({ field }) => field.endsWith('-sure'));

async function keepRefused(
  service: Service,
  { roundId, by, deviceNow }: EntrySender,
  sent: { id: string; at?: unknown },
  refusal: Refusal,
): Promise<void> {
  await change(service, { accountId: by }, async (work) => {
    const why = refusal.message;
    const asks = isDoubt(refusal) ? { asks: true } : {};
    const detail = JSON.parse(JSON.stringify({ sent, why, ...asks })) as Prisma.InputJsonObject;
    const round = await work.tx.round.findUniqueOrThrow({ where: { id: roundId } });
    const tapped = z.iso.datetime({ offset: true }).safeParse(sent.at).data;
    const { at } = tapTime(
      { at: tapped === undefined ? null : new Date(tapped), deviceNow },
      round,
      work.now,
    );
    const row = { id: sent.id, roundId, kind: 'refused', at, receivedAt: work.now, accountId: by, detail };
    const what = (await claim(work, row)) ? 'round_entry.refused' : 'round_entry.sent_again';
    work.record(what, { type: 'round_entry', id: sent.id }, { why });
  });
}

/**
 * Takes a reading that was refused in doubt, of the time it was tapped: a person says that it is really so.
 * @throws Refusal 404 when there is no such note, or it was mended already
 */
export async function takeInDoubt(work: Work, id: string): Promise<void> {
  const refused = await work.tx.roundEntry.findFirst({ where: { id, kind: 'refused' } });
  const detail = (refused?.detail ?? {}) as { sent?: object; asks?: boolean; mended?: object };
  if (refused === null || detail.asks !== true || detail.mended !== undefined) throw notFound('This note');
  const again = { ...detail.sent, id: uuidv7(), sure: 'yes', mends: id };
  const entry = entrySchema.parse(again);
  await noteEntry(work, refused.roundId, entry, { at: refused.at, deviceNow: work.now });
}
