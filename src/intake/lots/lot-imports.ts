import { chooseCurrency } from '../../farm/sites/sites.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { plainName } from '../../stock/kinds/kind-names.rules.ts';
import { type ImportedLot, saveImportedLots, takeBackLots } from '../../stock/lots/imported.ts';
import type { Answers } from '../file/questions.rules.ts';
import { beginAcceptance, endAcceptance, takenLines } from '../imports/acceptance.ts';
import { findImport } from '../imports/imports.ts';
import type { FileLot, LotLine } from './lot-reader.rules.ts';
import type { ParsedLots } from './parse-lots.ts';

type TakenLine = LotLine & { parsed: FileLot };

/** True when every question is answered, so that the file can be taken. */
export const isAnswered = ({ questions, kindQuestions, fault }: ParsedLots): boolean =>
  fault === null && [...questions, ...kindQuestions].every(({ answer }) => answer !== '');

/**
 * Takes a file of stock as its preview (made a moment before) shows it, in one transaction. Taking it again changes
 * nothing.
 * @throws Refusal 404; 409 while something is asked, when the answers changed meanwhile, or when nothing would be taken
 */
export async function acceptLots(
  work: Work,
  site: { id: string },
  id: string,
  preview: ParsedLots | null,
  answers: Answers,
): Promise<{ taken: number }> {
  const begun = await beginAcceptance(work, { id, holds: 'lots', preview, answers, isAnswered });
  if ('before' in begun) return { taken: begun.before };
  const lines = takenLines(begun.preview.lines);
  const { currency = '' } = answers;
  if (currency !== '' && currency !== 'none') await chooseCurrency(work, site.id, currency);
  await saveImportedLots(
    work,
    { siteId: site.id, importId: id, since: answers.since === 'received' ? 'received' : 'now' },
    lines.map(importedLot),
  );
  await rememberNames(work, site.id, begun.preview, answers);
  return endAcceptance(work, { id, ...begun, taken: lines.length });
}

const importedLot = ({ row, parsed }: TakenLine): ImportedLot => {
  const { kindName, place, ...lot } = parsed;
  return { ...lot, row, slotIds: place?.slotIds ?? [], systemId: place?.systemId ?? null };
};

/** Keeps which kind each name was said to mean, for the next file. */
async function rememberNames(
  work: Work,
  siteId: string,
  preview: ParsedLots,
  answers: Answers,
): Promise<void> {
  const ofRow = new Map(preview.lines.map((line) => [line.row, line.parsed] as const));
  for (const { id, name, rows } of preview.kindQuestions) {
    const kindId = rows.map((row) => ofRow.get(row)?.kindId).find((one) => one !== undefined);
    if (kindId === undefined || answers[id] === undefined) continue;
    const key = { siteId, name: plainName(name) };
    await work.tx.lotName.upsert({
      where: { siteId_name: key },
      create: { ...key, kindId },
      update: { kindId },
    });
  }
}

/**
 * Takes the lots of a file back while nothing was done with them: their pieces are counted off and their slots are free.
 * @throws Refusal 404; 409 when something was done with one of them since
 */
export async function withdrawLots(work: Work, id: string, reason: string): Promise<{ lots: number }> {
  const { fileName } = await findImport(work.tx, id, 'lots');
  const lots = await takeBackLots(work, id, `Taken back with the file ${fileName}: ${reason}`);
  if (lots === 0) throw new Refusal('None of its lots is here any more.', { status: 409 });
  work.record('import.withdrawn', { type: 'import', id }, { fileName, lots, reason });
  return { lots };
}

/** Lots of a file that has been taken: how many have pieces, and the first of them. */
export async function lotsOfImport(db: Reader, importId: string, limit: number) {
  const where = { importId, pieces: { gt: 0 } };
  const [standing, first] = await Promise.all([
    db.lot.count({ where }),
    db.lot.findMany({ where, include: { kind: true }, orderBy: { id: 'asc' }, take: limit }),
  ]);
  return { standing, first };
}

/** The latest files of a site's stock, newest first, with how many of their lots still have pieces. */
export async function listLotImports(db: Reader, siteId: string, limit: number) {
  return db.import.findMany({
    where: { siteId, holds: 'lots' },
    select: {
      ...{ id: true, fileName: true, createdAt: true, acceptedAt: true, taken: true },
      _count: { select: { lots: { where: { importRow: { not: null } } } } },
    },
    orderBy: { createdAt: 'desc' },
    take: limit,
  });
}
