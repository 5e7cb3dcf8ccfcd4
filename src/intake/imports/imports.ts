import type { ImportHolds } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { Answers } from '../file/questions.rules.ts';
import { noTable } from './no-table.rules.ts';

/** A file as it was uploaded. */
export interface UploadedFile {
  fileName: string;
  content: Uint8Array<ArrayBuffer>;
}

/** Saves a file that was brought to a site as it came. Nothing of it counts until it is accepted. @throws Refusal when it is empty or no table */
export async function saveUpload(
  work: Work,
  siteId: string,
  { fileName, content }: UploadedFile,
  holds: ImportHolds = 'readings',
): Promise<{ id: string }> {
  if (content.length === 0)
    throw new Refusal('Choose a file with something in it, or paste the table.', { field: 'file' });
  const instead = noTable({ fileName, content });
  if (instead !== null) throw new Refusal(instead, { field: 'file' });
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
