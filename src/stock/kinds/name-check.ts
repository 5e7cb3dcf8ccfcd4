import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { kindMeant } from './kinds.ts';
import {
  askedAbout,
  checkScientificName,
  checkTradeName,
  type LibraryName,
  type NameNote,
} from './name-check.rules.ts';

/** All kinds with their names and groups. One query. */
export async function libraryNames(db: Reader): Promise<LibraryName[]> {
  const kinds = await db.kind.findMany({ include: { parent: true }, orderBy: { name: 'asc' } });
  return kinds.map(({ id, name, alsoCalled, rank, parent }) => ({
    ...{ id, name, alsoCalled, isTaxon: rank === 'taxon' },
    groupId: parent?.id ?? id,
    groupName: parent?.name ?? name,
  }));
}

/** Names to choose from while one is typed: taxa and their genera. */
export function namesToChoose(library: readonly LibraryName[]): string[] {
  const taxa = library.filter(({ isTaxon }) => isTaxon).map(({ name }) => name);
  return [...new Set(taxa.flatMap((name) => [name.split(' ')[0] ?? '', name]))].sort();
}

/** What the library says to the names of a lot: what it is identified as, and what it is sold as. */
export function notesOnNames(
  library: readonly LibraryName[],
  lot: { kindId: string; identifiedAs: string; tradeName: string },
): NameNote[] {
  const keptAs = library.find(({ id }) => id === lot.kindId);
  if (keptAs === undefined) return [];
  return [
    ...(lot.identifiedAs === '' ? [] : checkScientificName(lot.identifiedAs, keptAs, library)),
    ...checkTradeName(lot.tradeName, keptAs, library),
  ];
}

/**
 * Asks about a scientific name that looks like a slip, or that the library keeps as another kind than the lot. It is taken
 * as typed once somebody says that it is meant so; it is never changed.
 * @throws Refusal 409 beside "scientificName"
 */
export async function passName(
  db: Reader,
  { name, kindId, asTyped }: { name: string; kindId: string; asTyped: boolean },
): Promise<void> {
  if (name === '' || asTyped) return;
  const kind = await kindMeant(db, kindId);
  const asked = askedAbout(
    notesOnNames(await libraryNames(db), { kindId: kind.id, identifiedAs: name, tradeName: '' }),
  );
  if (asked.length === 0) return;
  const words = asked.map(({ text }) => text).join(' ');
  throw new Refusal(`${words} Correct it, or tick that it is meant as typed.`, {
    status: 409,
    field: 'scientificName',
  });
}

/** What speaks against the trade name of a lot as it is kept, in words; '' where nothing does. It is told, and taken as typed. */
export async function doubtOfTradeName(
  db: Reader,
  { kindId, tradeName }: { kindId: string; tradeName: string },
): Promise<string> {
  if (tradeName === '') return '';
  const kind = await kindMeant(db, kindId);
  const notes = notesOnNames(await libraryNames(db), { kindId: kind.id, identifiedAs: '', tradeName });
  return askedAbout(notes)
    .map(({ text }) => text)
    .join(' ');
}
