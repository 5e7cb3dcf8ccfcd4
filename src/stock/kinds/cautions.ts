import type pg from 'pg';
import { type Care, isPoisonous, lotCare } from './care.ts';

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
  if (care === undefined || words === null) return null;
  const grave = isPoisonous(care);
  return {
    grave,
    title: grave ? 'May hold a strong poison' : 'Caution',
    text: `${words} ${lastWord}`,
    points: [],
  };
}

/** The cautions of some lots; those without one are left out. */
export async function lotCautions(pool: pg.Pool, lotIds: readonly string[]): Promise<Caution[]> {
  const care = await lotCare(pool, { lotIds });
  return lotIds.flatMap((id) => cautionIn(care.get(id)) ?? []);
}

/** The caution of one lot, or null. */
export async function cautionOf(pool: pg.Pool, lotId: string): Promise<Caution | null> {
  return (await lotCautions(pool, [lotId]))[0] ?? null;
}
