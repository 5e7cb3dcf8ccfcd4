import { plural } from '../../platform/words/numbers.ts';

/**
 * Where animals on a permit come from, by the codes that permits print. Source: CITES Resolution Conf. 12.3 (from memory).
 */
export const SOURCES = [
  { value: 'W', text: 'W, wild' },
  { value: 'X', text: 'X, from the open sea' },
  { value: 'R', text: 'R, ranched' },
  { value: 'C', text: 'C, bred in captivity' },
  { value: 'F', text: 'F, born in captivity, short of C' },
  { value: 'I', text: 'I, confiscated' },
  { value: 'O', text: 'O, from before the listing' },
  { value: 'U', text: 'U, unknown' },
] as const;

export const SOURCE_CODES = SOURCES.map(({ value }) => value) as [string, ...string[]];

/** Pieces of one species, as a paper or a box has them. */
export interface SpeciesCount {
  readonly species: string;
  readonly pieces: number;
}

const keyOf = (species: string) => species.trim().toLowerCase().replace(/\s+/g, ' ');

/** The name that counts today for one that a paper prints. */
type Accepted = (printed: string) => string;

function sums(lines: readonly SpeciesCount[], accepted: Accepted): Map<string, SpeciesCount> {
  const all = new Map<string, SpeciesCount>();
  for (const { species, pieces } of lines) {
    const key = keyOf(accepted(species));
    all.set(key, { species: all.get(key)?.species ?? species, pieces: pieces + (all.get(key)?.pieces ?? 0) });
  }
  return all;
}

/** A name as it is printed, with the one that counts today where that is another. */
export function printedWords(printed: string, accepted: Accepted): string {
  const today = accepted(printed);
  return today === printed ? printed : `${printed} (today ${today})`;
}

/**
 * Where the permit and the packing list differ, each in a sentence; none where they are equal, or where there is no permit
 * line at all. A permit counts species, whichever lots the pieces are of, and may print an older name of one.
 */
export function permitDifferences(
  permit: readonly SpeciesCount[],
  packed: readonly SpeciesCount[],
  accepted: Accepted = (printed) => printed,
): string[] {
  if (permit.length === 0) return [];
  const [onPaper, inBox] = [sums(permit, accepted), sums(packed, accepted)];
  const keys = [...new Set([...onPaper.keys(), ...inBox.keys()])];
  return keys.flatMap((key) => {
    const [paper, box] = [onPaper.get(key), inBox.get(key)];
    const species = printedWords(paper?.species ?? box?.species ?? '', accepted);
    if (paper === undefined)
      return [`${species}: ${plural(box?.pieces ?? 0, 'piece', 'pieces')} in the box, on no permit line.`];
    if (box === undefined)
      return [`${species}: ${plural(paper.pieces, 'piece', 'pieces')} on the permit, none in the box.`];
    if (paper.pieces === box.pieces) return [];
    return [`${species}: ${paper.pieces} on the permit, ${box.pieces} in the box.`];
  });
}
