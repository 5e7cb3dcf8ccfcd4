// How scientific names are written: with their author, a subgenus, a doubt, or as a cross. By the International Code of
// Zoological Nomenclature (4th edition, articles 6, 22 and 51) and the open nomenclature of the trade, from memory.

/** "Dana, 1846" or "(Dana, 1846)" at the end of a name. */
const author = /[\s,]+\(?\p{Lu}[\p{L}.'’-]*(?:[\s,&]+[\p{L}.'’-]+)*,?\s+\d{4}\)?$/u;
const subgenus = /^(\p{L}+)\s+\(\p{L}+\)(?=\s)/u;
const doubts = /(?<=^|\s)(cf|aff)\.?(?=\s)|\?/giu;

/** A name without its author, its subgenus and what says how sure it is: "Acropora tenuis". */
export const bareName = (text: string): string =>
  text.trim().replace(author, '').replace(subgenus, '$1').replace(doubts, ' ').replace(/\s+/g, ' ').trim();

/** What a name itself says of how sure it is: "cf.", "aff." or "?"; '' where it says nothing. */
export function doubtIn(text: string): '' | 'cf.' | 'aff.' | '?' {
  const [found = ''] = text.trim().toLowerCase().match(doubts) ?? [];
  if (found.startsWith('cf')) return 'cf.';
  if (found.startsWith('aff')) return 'aff.';
  return found === '' ? '' : '?';
}

/** The names of which one is a cross, each with its genus; none where it is no cross. */
export function crossedNames(text: string): string[] {
  const parts = text
    .trim()
    .split(/\s*×\s*|\s+x\s+/iu)
    .filter((part) => part !== '');
  if (parts.length < 2) return [];
  const [genus = ''] = (parts[0] ?? '').split(/\s+/);
  return parts.map((part) => (/^\p{Ll}/u.test(part) ? `${genus} ${part}` : part));
}
