import type pg from 'pg';
import { type CsvCell, csvText } from '../platform/csv.ts';
import { type Told, tellDetail, type Wording } from './details.rules.ts';
import type { Cursor, JournalQuestion } from './journal.schema.ts';
import { type JournalLine, journalLines, namesIn } from './journal.ts';
import { kindWords } from './kind-words.ts';

const batch = 2_000;

const head = ['at', 'by', 'what', 'about', 'subject', 'subject_id', 'before', 'after', 'kind'];

const part = (told: readonly Told[], side: 'before' | 'after') =>
  told
    .filter((one) => one[side] !== null)
    .map((one) => `${one.what}: ${one[side]}`)
    .join('; ');

function cells(line: JournalLine, name: string | null, told: Told[]): CsvCell[] {
  return [
    line.at.toISOString(),
    line.by ?? 'Evenwater itself',
    kindWords[line.kind] ?? line.kind,
    line.subjectType.replaceAll('_', ' '),
    name,
    line.subjectId,
    part(told, 'before'),
    part(told, 'after'),
    line.kind,
  ];
}

/** The lines that answer a question as a CSV file, newest first, read batch by batch while it is sent. Times are UTC. */
export async function* journalCsv(
  pool: pg.Pool,
  question: JournalQuestion,
  words: Omit<Wording, 'nameOf'>,
): AsyncGenerator<string> {
  yield csvText([head]);
  let after: Cursor | null = null;
  for (;;) {
    const lines: JournalLine[] = await journalLines(pool, question, after, batch);
    const names = await namesIn(pool, lines);
    const nameOf = (id: string) => names.get(id)?.name ?? null;
    yield csvText(
      lines.map((line) => cells(line, nameOf(line.subjectId), tellDetail(line.detail, { ...words, nameOf }))),
    );
    if (lines.length < batch) return;
    after = lines.at(-1) ?? null;
  }
}
