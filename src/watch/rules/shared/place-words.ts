import type { Evidence } from '../../../alerts/finding.ts';
import type { Flow } from '../../../generated/prisma/enums.ts';
import type { LotFact } from '../../facts/types.ts';

const flows: readonly Flow[] = ['still', 'low', 'medium', 'high'];

/** "low to medium". */
export function flowRangeWords(low: number, high: number): string {
  const [from, to] = [flows[low] ?? 'still', flows[high] ?? 'high'];
  return from === to ? from : `${from} to ${to}`;
}

/** A lot as the farm calls it, with its code: "Green stag 4 (247-6TY)"; the code alone where it has no name. */
export const lotName = ({ code, ownName }: Pick<LotFact, 'code' | 'ownName'>): string =>
  ownName === '' ? code : `${ownName} (${code})`;

/** "247-6TY on N3, B4". */
export const whereWords = (lot: LotFact): string => `${lotName(lot)} on ${lot.place}`;

/** Where a lot stands, as evidence. */
export const placementEvidence = ({ placementId, placedAt, place }: LotFact, note: string): Evidence => ({
  kind: 'placement',
  id: placementId,
  at: placedAt,
  text: `On ${place}`,
  note,
});

/** "3 lots", "1 lot". */
export const lotsWords = (count: number): string => `${count} ${count === 1 ? 'lot' : 'lots'}`;
