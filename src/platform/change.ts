import { createHash } from 'node:crypto';
import { uuidv7 } from 'uuidv7';
import type { Prisma } from '../generated/prisma/client.ts';
import { refusalOf } from './constraints.ts';
import type { JournalKind, JournalSubject } from './journal-kinds.ts';
import { SentBefore } from './refusal.ts';
import type { Service, Tx } from './service.ts';
import { transactionOptions } from './transaction.ts';
import { keepRows, settleRows } from './undo.ts';

/** One change as it is being made: passed first to every operation. */
export interface Work {
  tx: Tx;
  now: Date;
  /** The account that makes the change; null for the service itself and for instruments. */
  accountId: string | null;
  /** The access key of the instrument that makes it by itself; null for people and the service. */
  accessKeyId: string | null;
  /** Writes a line in the journal with this change. */
  record<K extends JournalKind>(kind: K, subject: JournalSubject<K>, detail?: object): void;
  /** Has the rules of this system evaluated once the change is committed. */
  reevaluate(systemId: string): void;
  /** Has them evaluated at a time to come as well: when something is due then. */
  reevaluateAt(systemId: string, at: Date): void;
}

/** Who asks, and under which idempotency key. */
export interface Origin {
  accountId: string | null;
  /** The access key that asks: of an instrument, or of a program in a person's name. */
  accessKeyId?: string | null;
  key?: string | undefined;
  /** What was asked, so that one key cannot stand for two things. */
  fingerprint?: string;
  /** Has what the change did kept, so that the person can undo it; told its id where that is so. */
  undoable?: (changeId: string) => void;
  /** True where the change is that of a whole file, of 100,000 readings on a busy machine. */
  ofAFile?: boolean;
}

/** The queue of systems whose rules want evaluating. */
export const evaluationQueue = 'evaluate';

/**
 * A change by a whole file may take as long as that does: 100,000 readings are some 20 s of processor, and were three minutes
 * where a dozen others wanted the same two processors.
 */
const optionsOfAFile = { ...transactionOptions, timeout: 600_000 };

/** SHA-256 of anything that JSON can say. */
export function fingerprintOf(what: unknown): string {
  return createHash('sha256').update(JSON.stringify(what)).digest('hex');
}

/** A line of the journal as it is written. */
interface Note {
  id: string;
  kind: JournalKind;
  subjectType: string;
  subjectId: string;
  detail: object;
}

interface Lines {
  notes: Note[];
  systems: Set<string>;
  later: { systemId: string; at: Date }[];
}

function openWork(
  tx: Tx,
  now: Date,
  { accountId, accessKeyId = null }: Origin,
): { work: Work; lines: Lines } {
  const lines: Lines = { notes: [], systems: new Set(), later: [] };
  const work: Work = {
    tx,
    now,
    accountId,
    // What a person's key writes is the person's; what an instrument's does has no person.
    accessKeyId: accountId === null ? accessKeyId : null,
    record: (kind, subject, detail = {}) => {
      const who = accessKeyId === null ? {} : { accessKey: accessKeyId };
      const told = JSON.parse(JSON.stringify({ ...detail, ...who })) as object;
      lines.notes.push({
        ...{ id: uuidv7(), kind, subjectType: subject.type, subjectId: subject.id },
        detail: told,
      });
    },
    reevaluate: (systemId) => lines.systems.add(systemId),
    reevaluateAt: (systemId, at) => lines.later.push({ systemId, at }),
  };
  return { work, lines };
}

/** Lines in one statement: few enough that putting them into text holds nobody up (own choice). */
const linesAtOnce = 500;

/** Writes the lines of a change: a file of stock has thousands. */
async function writeNotes(work: Work, notes: readonly Note[]): Promise<void> {
  for (let at = 0; at < notes.length; at += linesAtOnce)
    await writeSome(work, notes.slice(at, at + linesAtOnce));
}

async function writeSome({ tx, now, accountId }: Work, notes: readonly Note[]): Promise<void> {
  await tx.$executeRaw`
    INSERT INTO journal_line (id, at, account_id, kind, subject_type, subject_id, detail)
    SELECT id, ${now}, ${accountId}::uuid, kind, "subjectType", "subjectId", detail
      FROM json_to_recordset(${JSON.stringify(notes)}::json)
           AS note (id uuid, kind text, "subjectType" text, "subjectId" uuid, detail jsonb)`;
}

/** What a change did, as undoing it wants to know. */
const didOf = ({ notes, systems }: Lines) => ({
  kinds: notes.map(({ kind }) => kind),
  subjects: notes.map(({ subjectType, subjectId, kind }) => ({
    type: subjectType,
    id: subjectId,
    did: kind,
  })),
  systems: [...systems],
});

/** Takes the key for this transaction; another one holding it is waited for. */
async function claimKey(tx: Tx, origin: Origin): Promise<{ done: boolean; result: unknown }> {
  if (origin.key === undefined) return { done: false, result: null };
  const fingerprint = origin.fingerprint ?? '';
  const claimed = await tx.$executeRaw`
    INSERT INTO request_key (key, account_id, fingerprint) VALUES (${origin.key}::uuid, ${origin.accountId}::uuid, ${fingerprint})
    ON CONFLICT (key) DO NOTHING`;
  if (claimed === 1) return { done: false, result: null };
  const earlier = await tx.requestKey.findUniqueOrThrow({ where: { key: origin.key } });
  if (earlier.fingerprint !== fingerprint || earlier.accountId !== origin.accountId) throw new SentBefore();
  return { done: true, result: earlier.result };
}

/**
 * Makes one change: everything `act` writes, its journal lines and the jobs that re-evaluate the systems it touched,
 * in one transaction. With an idempotency key the same request twice is one change with one result (which must be
 * plain JSON). What the database refuses comes back as a Refusal in words.
 * @throws Refusal; Error when `act` wrote no journal line
 */
export async function change<T>(
  service: Pick<Service, 'db' | 'now'> & { jobs: Pick<Service['jobs'], 'send'> },
  origin: Origin,
  act: (work: Work) => Promise<T>,
): Promise<T> {
  try {
    return await service.db.$transaction(
      async (tx) => {
        const earlier = await claimKey(tx, origin);
        if (earlier.done) return earlier.result as T;
        const { work, lines } = openWork(tx, service.now(), origin);
        const { accountId, undoable } = origin;
        const kept =
          undoable === undefined || accountId === null ? null : await keepRows(tx, accountId, work.now);
        const result = await act(work);
        if (lines.notes.length === 0) throw new Error('a change without a line in the journal');
        await writeNotes(work, lines.notes);
        if (kept !== null && (await settleRows(tx, kept, didOf(lines)))) undoable?.(kept);
        for (const systemId of lines.systems) await service.jobs.send(tx, evaluationQueue, { systemId });
        for (const { systemId, at } of lines.later)
          await service.jobs.send(tx, evaluationQueue, { systemId }, at);
        if (origin.key !== undefined) {
          const kept = (result ?? null) as Prisma.InputJsonValue;
          await tx.requestKey.update({ where: { key: origin.key }, data: { result: kept } });
        }
        return result;
      },
      origin.ofAFile === true ? optionsOfAFile : transactionOptions,
    );
  } catch (error) {
    throw refusalOf(error) ?? error;
  }
}
