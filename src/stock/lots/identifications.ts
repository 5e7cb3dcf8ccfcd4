import type { Work } from '../../platform/change.ts';
import type { Reader } from '../../platform/service.ts';
import { lockLot, lotSubject } from '../base/lot-lock.ts';

/** How sure an opinion is, as open nomenclature writes it. */
export const QUALIFIERS = ['', 'cf.', 'aff.', 'sp.', '?'] as const;

/** A dated, signed opinion of what a lot is, in the terms of Darwin Core. */
export interface Opinion {
  scientificName: string;
  /** "cf.", "aff.", "sp.", …; empty when there is no doubt. */
  identificationQualifier: string;
  identifiedBy: string;
  /** The day, "2026-11-24". */
  dateIdentified: string;
  identificationRemarks: string;
}

/**
 * Adds an opinion. The opinion with the latest day counts (of one day, the one entered last); none is deleted.
 * @throws Refusal 404
 */
export async function identifyLot(work: Work, lotId: string, opinion: Opinion): Promise<{ id: string }> {
  const lot = await lockLot(work.tx, lotId);
  const dateIdentified = new Date(`${opinion.dateIdentified}T00:00:00Z`);
  const { id } = await work.tx.identification.create({
    data: { lotId, ...opinion, dateIdentified, accountId: work.accountId },
  });
  work.record('lot.identified', lotSubject(lotId), { code: lot.code, ...opinion });
  return { id };
}

/** The opinion that counts, or null when nobody has given one. */
export async function latestOpinion(db: Reader, lotId: string): Promise<Opinion | null> {
  const row = await db.identification.findFirst({
    where: { lotId },
    orderBy: [{ dateIdentified: 'desc' }, { createdAt: 'desc' }],
  });
  if (row === null) return null;
  const { scientificName, identificationQualifier, identifiedBy, identificationRemarks } = row;
  const dateIdentified = row.dateIdentified.toISOString().slice(0, 10);
  return { scientificName, identificationQualifier, identifiedBy, dateIdentified, identificationRemarks };
}

/** A scientific name in parts, the qualifier apart: parts that are names are set in italics. */
export function scientificNameParts(
  scientificName: string,
  qualifier: string,
): { text: string; isName: boolean }[] {
  if (qualifier === '') return [{ text: scientificName, isName: true }];
  const [genus = '', ...rest] = scientificName.split(' ');
  const doubt = { text: qualifier, isName: false };
  if (qualifier === '?' || qualifier === 'sp.' || rest.length === 0) {
    return [{ text: scientificName, isName: true }, doubt];
  }
  return [{ text: genus, isName: true }, doubt, { text: rest.join(' '), isName: true }];
}

/** "Goniastrea cf. edwardsi", with the qualifier before the part of the name in doubt. */
export function scientificNameWords(scientificName: string, qualifier: string): string {
  return scientificNameParts(scientificName, qualifier)
    .map((part) => part.text)
    .join(' ');
}

/** Gives a lot the latest opinion of the lot its pieces were of. */
export async function copyIdentification(
  work: Work,
  from: { id: string; code: string },
  intoId: string,
): Promise<void> {
  const opinion = await latestOpinion(work.tx, from.id);
  if (opinion === null) return;
  const remarks = `Taken over from ${from.code}. ${opinion.identificationRemarks}`.trim();
  await identifyLot(work, intoId, { ...opinion, identificationRemarks: remarks });
}
