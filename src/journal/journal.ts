import type pg from 'pg';
import type { JournalKind } from '../platform/journal-kinds.ts';
import { idsIn } from './details.rules.ts';
import type { Cursor, JournalQuestion } from './journal.schema.ts';
import { type NamedSubject, namesOf, type SubjectType } from './subjects.ts';

/** One line of the journal. */
export interface JournalLine {
  id: string;
  at: Date;
  kind: JournalKind;
  subjectType: SubjectType;
  subjectId: string;
  detail: Record<string, unknown>;
  /** Who did it: a person, an instrument; null for the service itself. */
  by: string | null;
}

const lines = `
  SELECT line.id, line.at, line.kind, line.subject_type AS "subjectType", line.subject_id AS "subjectId", line.detail,
         coalesce(account.name, access_key.name) AS by
    FROM journal_line line
    LEFT JOIN account ON account.id = line.account_id
    LEFT JOIN access_key ON access_key.id::text = line.detail->>'accessKey'
   WHERE ($1::text IS NULL
          OR ($1 = 'itself' AND line.account_id IS NULL AND line.detail->>'accessKey' IS NULL)
          OR line.account_id::text = $1 OR line.detail->>'accessKey' = $1)
     AND ($2::text IS NULL OR line.subject_type = $2)
     AND ($3::uuid[] IS NULL OR line.subject_id = ANY($3))
     AND ($4::timestamptz IS NULL OR line.at >= $4)
     AND ($5::timestamptz IS NULL OR line.at < $5)
     AND ($6::timestamptz IS NULL OR (line.at, line.id) < ($6, $7::uuid))
     AND (line.site_id IS NULL OR line.site_id = $9::uuid)
   ORDER BY line.at DESC, line.id DESC LIMIT $8`;

/** The lines of a site and of what is the whole farm's that answer a question, newest first, after a cursor. One query. */
export async function journalLines(
  pool: pg.Pool,
  { siteId, by, about, subjects, from, to }: JournalQuestion,
  after: Cursor | null,
  limit: number,
): Promise<JournalLine[]> {
  const values = [by, about, subjects, from, to, after?.at ?? null, after?.id ?? null, limit, siteId];
  return (await pool.query<JournalLine>(lines, values)).rows;
}

/** The names of all that these lines are about and speak of. One query. */
export function namesIn(pool: pg.Pool, some: readonly JournalLine[]): Promise<Map<string, NamedSubject>> {
  const ids = new Set(some.flatMap((line) => [line.subjectId, ...idsIn(line.detail)]));
  return namesOf(pool, [...ids]);
}

/** Somebody or something whose lines can be asked for. */
export interface Author {
  id: string;
  name: string;
  isInstrument: boolean;
}

const authors = `
  SELECT id, name, false AS "isInstrument" FROM account
  UNION ALL SELECT id, name, true FROM access_key
  ORDER BY 3, 2`;

/** Everybody who can have lines: people, then instruments. */
export async function journalAuthors(pool: pg.Pool): Promise<Author[]> {
  return (await pool.query<Author>(authors)).rows;
}
