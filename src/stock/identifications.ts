import type { Work } from '../platform/change.ts';
import { lockLot, lotSubject } from './lot-row.ts';

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
 * Adds an opinion. The one with the latest day counts (of one day, the one entered last); none is erased.
 * @throws Refusal 404
 */
export async function identifyLot(work: Work, lotId: string, opinion: Opinion): Promise<{ id: string }> {
  const lot = await lockLot(work.tx, lotId);
  const dateIdentified = new Date(`${opinion.dateIdentified}T00:00:00Z`);
  const { id } = await work.tx.identification.create({
    data: { lotId, ...opinion, dateIdentified, accountId: work.by },
  });
  work.note('lot.identified', lotSubject(lotId), { code: lot.code, ...opinion });
  return { id };
}

/** "Goniastrea cf. edwardsi", with the qualifier where it stands in a name: before what is doubted. */
export function nameWords(scientificName: string, qualifier: string): string {
  if (qualifier === '') return scientificName;
  const [genus, ...rest] = scientificName.split(' ');
  if (rest.length === 0) return `${scientificName} ${qualifier}`;
  return [genus, qualifier, ...rest].join(' ');
}
