import type { Work } from '../platform/change.ts';
import { readerOf, type SqlReader } from '../platform/database/sql-reader.ts';
import { whoDid } from '../platform/database/who-did.ts';
import type { JournalSubject } from '../platform/journal-kinds.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import { namesOf } from './subjects.ts';

type Subject = JournalSubject<'record.person_corrected'>;

interface Signed {
  /** SQL of where it is, as `it`. */
  from: string;
  /** What it is called: "this reading". */
  words: string;
  /** SQL of what journal lines about it are about: type and id. */
  type: string;
  subject: string;
  /** SQL of when it was. */
  at: string;
  /** SQL of a name that a file gave. */
  named?: 'done_by' | 'measured_by';
  /** SQL that is true where an instrument or the service itself wrote it. */
  byItself?: string;
}

const itself = (from: string, type: string, words: string, more: Partial<Signed> = {}): Signed => ({
  ...{ from, words, type: `'${type}'`, subject: 'it.id', at: 'it.at' },
  ...more,
});
const ofLot = (from: string, words: string, more: Partial<Signed> = {}): Signed => ({
  ...{ from, words, type: `'lot'`, subject: 'it.lot_id', at: 'it.at' },
  ...more,
});

/** Entries that say who did it, by the name of their table. */
const signed = {
  reading: itself(
    'FROM (SELECT * FROM reading UNION ALL SELECT * FROM unpacked_reading($1::uuid)) it',
    'reading',
    'this reading',
    {
      named: 'measured_by',
      byItself: 'it.access_key_id IS NOT NULL',
    },
  ),
  water_change: itself('FROM water_change it', 'water_change', 'this water change', { named: 'done_by' }),
  dose: itself('FROM dose it', 'dose', 'this dose', {
    named: 'done_by',
    byItself: 'num_nonnulls(it.access_key_id, it.doser_id) > 0',
  }),
  feeding: itself('FROM feeding it', 'feeding', 'this feeding', { named: 'done_by' }),
  check_reading: itself('FROM check_reading it', 'check_reading', 'this check of a kit'),
  kit_pair: itself('FROM kit_pair it', 'kit_pair', 'these two tests'),
  system_event: itself('FROM system_event it', 'system_event', 'this event'),
  upkeep: {
    from: 'FROM upkeep it',
    words: 'this work',
    type: `CASE WHEN it.equipment_id IS NULL THEN 'circuit' ELSE 'equipment' END`,
    subject: 'coalesce(it.equipment_id, it.circuit_id)',
    at: 'it.at',
  },
  condition: ofLot('FROM condition it', 'this note of how it looked'),
  placement: ofLot('FROM placement it', 'this placement', { at: 'it.from_at' }),
  ledger_entry: ofLot('FROM ledger_entry it', 'this change of the count'),
  photo: ofLot('FROM photo it', 'this photo', { at: 'it.taken_at' }),
  cut: ofLot('FROM cut it', 'this cut', { subject: 'it.from_lot_id' }),
} as const satisfies Readonly<Record<string, Signed>>;

export type SignedNoun = keyof typeof signed;

export const isSigned = (noun: string): noun is SignedNoun => Object.hasOwn(signed, noun);

/** An entry with who did it. */
export interface SignedEntry {
  words: string;
  at: Date;
  subject: Subject;
  name: string;
  href: string;
  accountId: string | null;
  /** Who did it, by name; null where nobody is named. */
  who: string | null;
  byItself: boolean;
}

interface Row {
  type: Subject['type'];
  subjectId: string;
  at: Date;
  accountId: string | null;
  who: string | null;
  byItself: boolean;
}

/** Two queries. @throws Refusal 404 */
export async function findSigned(sql: SqlReader, noun: SignedNoun, id: string): Promise<SignedEntry> {
  const { from, words, type, subject, at, named, byItself = 'false' }: Signed = signed[noun];
  const name = named === undefined ? 'account.name' : whoDid('it', named);
  const { rows } = await sql.query<Row>(
    `SELECT ${type} AS type, ${subject} AS "subjectId", ${at} AS at, it.account_id AS "accountId",
            ${name} AS who, ${byItself} AS "byItself"
       ${from} LEFT JOIN account ON account.id = it.account_id WHERE it.id = $1::uuid`,
    [id],
  );
  const [row] = rows;
  if (row === undefined) throw notFound('This entry');
  const about = (await namesOf(sql, [row.subjectId])).get(row.subjectId);
  const { accountId, who, byItself: alone } = row;
  return {
    ...{ words, at: row.at, subject: { type: row.type, id: row.subjectId }, name: about?.name ?? '' },
    ...{ href: about?.href ?? '/', accountId, who, byItself: alone },
  };
}

/**
 * Names who did what an entry tells, where somebody else's name stood. The journal keeps who entered it.
 * @throws Refusal 404; 409 for what no person did
 */
export async function correctPerson(
  work: Work,
  noun: SignedNoun,
  id: string,
  { personId, reason }: { personId: string; reason: string },
): Promise<SignedEntry> {
  const entry = await findSigned(readerOf(work.tx), noun, id);
  if (entry.byItself)
    throw new Refusal('An instrument or the service itself wrote this, and no person.', { status: 409 });
  const person = await work.tx.account.findUnique({ where: { id: personId } });
  if (person === null) throw new Refusal('Choose who did it.', { field: 'personId' });
  await work.tx.$queryRaw`SELECT correct_person(${noun}, ${id}::uuid, ${personId}::uuid)::text`;
  work.record('record.person_corrected', entry.subject, {
    what: entry.words,
    time: entry.at,
    before: { by: entry.who },
    after: { by: person.name },
    reason,
  });
  return entry;
}
