import type pg from 'pg';
import { type Care, lotCare } from './care.ts';

/** What a caution shows: the words of the care library, and whose advice comes first. */
export interface Caution {
  /** It can hurt badly: shown on every record, not only before cutting. */
  grave: boolean;
  title: string;
  text: string;
  points: string[];
}

const lastWord =
  'This is common advice, not a replacement for a physician or poison centre, nor for the rules of work and waste where you are.';

/** The caution a care holds, or null. */
export function cautionIn(care: Care | undefined): Caution | null {
  const words = care?.caution?.words ?? null;
  if (words === null) return null;
  const grave = /palytoxin/i.test(words);
  return {
    grave,
    title: grave ? 'May hold a strong poison' : 'Caution',
    text: `${words} ${lastWord}`,
    points: [],
  };
}

/** The caution of one lot, or null. */
export async function cautionOf(pool: pg.Pool, lotId: string): Promise<Caution | null> {
  return cautionIn((await lotCare(pool, { lotIds: [lotId] })).get(lotId));
}
