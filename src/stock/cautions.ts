import type pg from 'pg';
import { type Care, lotCare } from './care.ts';

/** What a caution shows: the words of the care library, and who has the last word. */
export interface Caution {
  /** It can hurt badly: said on every record, not only before cutting. */
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
  const venomous = /palytoxin/i.test(words);
  if (!/palytoxin/i.test(words)) {
    return { grave: false, title: 'Caution', text: `${words} ${lastWord}`, points: [] };
  }
  return {
    grave: true,
    title: 'May hold a strong poison',
    text: words,
    points: [
      'Wear gloves and eye protection, also when only the rock is touched.',
      'Never boil, steam, heat or dry-scrub the rock or the pieces; keep them wet and out of a jet of water.',
      lastWord,
    ],
  };
}

/** The caution of one lot, or null. */
export async function cautionOf(pool: pg.Pool, lotId: string): Promise<Caution | null> {
  return cautionIn((await lotCare(pool, { lotIds: [lotId] })).get(lotId));
}
