/**
 * Genera in which palytoxin was found, or that are sold beside them under one trade name, and how they are misspelt:
 * Palythoa, Protopalythoa and Zoanthus (Arh. Hig. Rada Toksikol. 70 (2019) 14; MMWR 64 (2015) 852); Parazoanthus and
 * Epizoanthus, and the trade's short names, are taken along as the safe side (own choice).
 */
const POISONOUS = /\b(?:proto)?pal[iy]th?o\w*|\bpal[iy]s?\b|\w*zo[ao]nth\w*|\bzoas?\b/i;

/** The same for a first choice of rows in SQL; `poisonousIn` decides. */
export const POISONOUS_SQL = 'pal[iy]|zo[ao]nth|zoa';

/** The name among these texts that tells of a possible strong poison, as written; null where none does. */
export function poisonousIn(texts: readonly string[]): string | null {
  for (const text of texts) {
    const found = POISONOUS.exec(text)?.[0];
    if (found !== undefined) return found;
  }
  return null;
}
