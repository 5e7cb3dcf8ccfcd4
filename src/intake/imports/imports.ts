import type { ImportHolds } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { type ImportedReading, saveImported, voidImported } from '../../water/readings/imported.ts';
import type { FileLine, ParsedLine } from '../file/lines.rules.ts';
import type { ParsedFile } from '../file/parse-file.ts';
import type { Answers } from '../file/questions.rules.ts';
import { markDuplicates } from './duplicates.ts';
import { addLaboratories } from './laboratories.ts';
import { isFullyAnswered } from './preview.ts';
import { refusedRows } from './refused-rows.ts';

/** A file as it was uploaded. */
export interface UploadedFile {
  fileName: string;
  content: Uint8Array<ArrayBuffer>;
}

/** Saves a file that was brought to a site as it came. Nothing of it counts until it is accepted. @throws Refusal when it is empty */
export async function saveUpload(
  work: Work,
  siteId: string,
  { fileName, content }: UploadedFile,
  holds: ImportHolds = 'readings',
): Promise<{ id: string }> {
  if (content.length === 0)
    throw new Refusal('Choose a file with something in it, or paste the table.', { field: 'file' });
  const { id } = await work.tx.import.create({
    data: { siteId, fileName, content, holds, reading: {}, accountId: work.accountId, createdAt: work.now },
    select: { id: true },
  });
  work.record('import.brought', { type: 'import', id }, { fileName, bytes: content.length });
  return { id };
}

const listed = {
  id: true,
  fileName: true,
  createdAt: true,
  acceptedAt: true,
  taken: true,
  accountId: true,
} as const;

/** A file without its content. @throws Refusal 404 */
export async function findImport(db: Reader, id: string, holds: ImportHolds = 'readings') {
  const found = await db.import.findUnique({
    where: { id, holds },
    select: { ...listed, reading: true, refused: true },
  });
  if (found === null) throw notFound('This file');
  return { ...found, answers: found.reading as Answers };
}

/** The bytes of a file. @throws Refusal 404 */
export async function importContent(db: Reader, id: string): Promise<Uint8Array> {
  const found = await db.import.findUnique({ where: { id }, select: { content: true } });
  if (found === null) throw notFound('This file');
  return found.content;
}

/** The latest files of a site, newest first, with how many of their readings still stand. */
export async function listImports(db: Reader, siteId: string, limit: number) {
  return db.import.findMany({
    where: { siteId, holds: 'readings' },
    select: { ...listed, _count: { select: { readings: { where: { voidedAt: null } } } } },
    orderBy: { createdAt: 'desc' },
    take: limit,
  });
}

/** Adds answers about how a file is read. @throws Refusal 404; 409 once it is accepted */
export async function saveAnswers(
  work: Work,
  id: string,
  given: Answers,
  holds: ImportHolds = 'readings',
): Promise<void> {
  const { answers } = await lockOpenImport(work, id, holds);
  // Another encoding, separator or head row makes other columns, so that answers about the old ones no longer hold.
  const isRecut = ['encoding', 'separator', 'head'].some((key) => key in given);
  const isKept = ([key, answer]: [string, string]) => answer !== '' && !(isRecut && columnAnswer.test(key));
  const reading = Object.fromEntries(Object.entries({ ...answers, ...given }).filter(isKept));
  await work.tx.import.update({ where: { id }, data: { reading } });
  work.record('import.answered', { type: 'import', id }, given);
}

const columnAnswer = /^(column|unit)-/;

/** Deletes a file that was not accepted. @throws Refusal 404; 409 once it is accepted */
export async function discardImport(work: Work, id: string, holds: ImportHolds = 'readings'): Promise<void> {
  const { fileName } = await lockOpenImport(work, id, holds);
  await work.tx.import.delete({ where: { id } });
  work.record('import.dropped', { type: 'import', id }, { fileName });
}

async function lockOpenImport(work: Work, id: string, holds: ImportHolds) {
  await work.tx.$executeRaw`SELECT 1 FROM import WHERE id = ${id}::uuid FOR UPDATE`;
  const found = await findImport(work.tx, id, holds);
  if (found.acceptedAt !== null)
    throw new Refusal('This file is taken already. It can be taken back as a whole.', {
      status: 409,
    });
  return found;
}

/**
 * Takes a file as its preview (made a moment before) shows it, in one transaction. Taking it again changes nothing.
 * Readings that came to be there meanwhile are left out.
 * @throws Refusal 404; 409 while something is asked, or when the answers changed meanwhile
 */
export async function acceptImport(
  work: Work,
  id: string,
  preview: ParsedFile | null,
  answers: Answers,
): Promise<{ taken: number }> {
  // One file after the other: two with the same rows must see each other's.
  await work.tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtext('import'))`;
  const found = await findImport(work.tx, id);
  if (found.acceptedAt !== null || preview === null) {
    work.record('import.asked again', { type: 'import', id });
    return { taken: found.taken };
  }
  if (JSON.stringify(found.answers) !== JSON.stringify(answers))
    throw new Refusal('Somebody answered differently meanwhile. Look at the preview again.', { status: 409 });
  if (!isFullyAnswered(preview))
    throw new Refusal('Answer what is asked first; “leave these rows out” is an answer too.', {
      status: 409,
    });
  await markDuplicates(readerOf(work.tx), preview.lines);
  const lines = preview.lines.filter(isTaken);
  if (lines.length === 0) throw new Refusal('There is nothing in this file to take.', { status: 409 });
  const methods = await addLaboratories(
    work,
    lines.map(({ parsed }) => parsed),
  );
  await saveImported(
    work,
    id,
    lines.map(({ parsed, text }) => importedReading(parsed, text, methods)),
  );
  const refused = refusedRows({ ...preview, columns: preview.format.layout.columns.length });
  const data = { acceptedAt: work.now, taken: lines.length, refused: refused.text };
  await work.tx.import.update({ where: { id }, data });
  const counts = { taken: lines.length, refused: refused.rows };
  work.record('import.taken', { type: 'import', id }, { fileName: found.fileName, ...counts });
  return { taken: lines.length };
}

/** Takes the readings of a file back: all that still stand are voided with the reason. @throws Refusal 404, 409 */
export async function withdrawImport(work: Work, id: string, reason: string): Promise<{ voided: number }> {
  const { fileName } = await findImport(work.tx, id);
  const voided = await voidImported(work, id, reason);
  if (voided === 0) throw new Refusal('None of its readings stands any more.', { status: 409 });
  work.record('import.withdrawn', { type: 'import', id }, { fileName, voided, reason });
  return { voided };
}

const isTaken = (line: FileLine): line is FileLine & { parsed: ParsedLine } =>
  line.state === 'taken' && line.parsed !== null;

function importedReading(
  parsed: ParsedLine,
  text: string,
  methods: ReadonlyMap<string, string>,
): ImportedReading {
  const { systemId, quantity, at, reading, instrument, batch, note, measuredBy, entered } = parsed;
  const stated = parsed.uncertainty;
  const { value, below, above, uncertainty, unit } = reading;
  return {
    systemId,
    quantity,
    at,
    value,
    below,
    above,
    uncertainty: stated ?? uncertainty,
    enteredText: entered?.text ?? text,
    enteredUnit: entered?.unit ?? unit,
    factor: entered?.factor ?? 1,
    methodId: instrument.methodId ?? methods.get(`${quantity.code} ${instrument.laboratory}`) ?? null,
    kitId: instrument.kitId,
    laboratory: instrument.laboratory,
    batch,
    note,
    measuredBy,
  };
}
