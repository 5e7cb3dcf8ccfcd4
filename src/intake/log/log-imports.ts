import { removeImportedUpkeep, saveImportedUpkeep } from '../../farm/equipment/imported-upkeep.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import {
  saveImportedChanges,
  saveImportedDoses,
  saveImportedFeedings,
  voidImportedEntries,
} from '../../water/log/imported.ts';
import type { Answers } from '../file/questions.rules.ts';
import { beginAcceptance, endAcceptance, takenLines } from '../imports/acceptance.ts';
import { findImport } from '../imports/imports.ts';
import { isLogKind, type LogKind, logKinds } from './kinds.rules.ts';
import type { FileEntry } from './log-reader.rules.ts';
import type { ParsedLog } from './parse-log.ts';

/** True when every question is answered, so that the file can be taken. */
export const isAnswered = ({ questions, fault }: ParsedLog): boolean =>
  fault === null && questions.every(({ answer }) => answer !== '');

/** A file of what was done, with what its rows are. @throws Refusal 404 */
export async function findLogImport(db: Reader, id: string) {
  const row = await db.import.findUnique({ where: { id }, select: { holds: true } });
  const holds = row !== null && isLogKind(row.holds) ? row.holds : 'doses';
  return { ...(await findImport(db, id, holds)), kind: holds as LogKind };
}

/** A file as it would be taken, and how many files of its kind the site had taken when that was looked up. */
interface ReadLog {
  preview: ParsedLog;
  filesTaken: number;
}

/** How many files of a kind a site has taken. Asked for before what is here is read, so that a later one is noticed. */
export const countTaken = (db: Reader, siteId: string, kind: LogKind): Promise<number> =>
  db.import.count({ where: { siteId, holds: kind, acceptedAt: { not: null } } });

/**
 * Takes a file as its preview (made a moment before; null where it was taken before) shows it, in one transaction. Taking
 * it again changes nothing.
 * @throws Refusal 404; 409 while something is asked, when the answers changed or another file of the kind was taken
 * meanwhile, or when nothing would be taken
 */
export async function acceptLog(
  work: Work,
  { id, kind, siteId }: { id: string; kind: LogKind; siteId: string },
  read: ReadLog | null,
  answers: Answers,
): Promise<{ taken: number }> {
  const preview = read?.preview ?? null;
  const begun = await beginAcceptance(work, { id, holds: kind, preview, answers, isAnswered });
  if ('before' in begun) return { taken: begun.before };
  // What that file brought may be in this one too: logged twice, a dose counts twice.
  if ((await countTaken(work.tx, siteId, kind)) !== read?.filesTaken)
    throw new Refusal('Another such file was taken meanwhile. Look at the preview again.', { status: 409 });
  const lines = takenLines(begun.preview.lines);
  const entries = lines.map(({ parsed }) => parsed);
  await saveImportedDoses(work, id, ofKind(entries, 'doses'));
  await saveImportedChanges(work, id, ofKind(entries, 'water_changes'));
  await saveImportedFeedings(work, id, ofKind(entries, 'feedings'));
  await saveImportedUpkeep(work, id, ofKind(entries, 'upkeep'));
  return endAcceptance(work, { id, ...begun, taken: lines.length });
}

const ofKind = <Kind extends FileEntry['kind']>(entries: readonly FileEntry[], kind: Kind) =>
  entries.filter((entry): entry is Extract<FileEntry, { kind: Kind }> => entry.kind === kind);

/** Takes the entries of a file back: all that still stand are voided with the reason. @throws Refusal 404, 409 */
export async function withdrawLog(work: Work, id: string, reason: string): Promise<{ entries: number }> {
  const { fileName } = await findLogImport(work.tx, id);
  const entries = (await voidImportedEntries(work, id, reason)) + (await removeImportedUpkeep(work, id));
  if (entries === 0) throw new Refusal('None of its entries counts any more.', { status: 409 });
  work.record('import.withdrawn', { type: 'import', id }, { fileName, entries, reason });
  return { entries };
}

const standing = { where: { voidedAt: null } };
const counts = {
  _count: { select: { doses: standing, changes: standing, feedings: standing, upkeep: true } },
};

/** How many entries of a file stand. */
export async function standingEntries(db: Reader, id: string): Promise<number> {
  const { _count } = await db.import.findUniqueOrThrow({ where: { id }, select: counts });
  return sum(_count);
}

const sum = ({
  doses,
  changes,
  feedings,
  upkeep,
}: {
  doses: number;
  changes: number;
  feedings: number;
  upkeep: number;
}) => doses + changes + feedings + upkeep;

/** The latest files of what was done, newest first, with how many of their entries still stand. */
export async function listLogImports(db: Reader, siteId: string, limit: number) {
  const files = await db.import.findMany({
    where: { siteId, holds: { in: [...logKinds] } },
    select: {
      id: true,
      fileName: true,
      holds: true,
      createdAt: true,
      acceptedAt: true,
      taken: true,
      ...counts,
    },
    orderBy: { createdAt: 'desc' },
    take: limit,
  });
  return files.map(({ _count, holds, ...file }) => ({
    ...file,
    kind: holds as LogKind,
    standing: sum(_count),
  }));
}
