/** A kind with every name it is known by, its own first. */
export interface NamedKind {
  id: string;
  name: string;
  names: string[];
}

/** A name without marks, case and plural endings: what two spellings of one name have in common. */
export function plainName(text: string): string {
  return text
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, ' ')
    .trim()
    .split(' ')
    .map((word) => (word.length > 4 ? word.replace(/s$/, '') : word))
    .join(' ');
}

/** A name's letters and digits alone: "Bird's nest" and "birdsnest" have the same. */
const lettersOf = (text: string) =>
  text
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, '');

/** Whether what somebody typed stands within a name, however both are spaced; null letters stand in none. */
export function standsIn(typed: string, name: string): boolean {
  const asked = lettersOf(typed);
  return asked !== '' && lettersOf(name).includes(asked);
}

/** Whether each word typed begins a word of the name, in order: "A. tenuis" and "acro ten" of "Acropora tenuis". */
export function shortensTo(typed: string, name: string): boolean {
  const words = plainName(name).split(' ');
  const asked = plainName(typed).split(' ');
  let from = 0;
  for (const one of asked) {
    const at = words.findIndex((word, n) => n >= from && word.startsWith(one));
    if (at === -1 || one === '') return false;
    from = at + 1;
  }
  return true;
}

/** Words that tell no kind from another: colours and what all are called (common practice). */
const commonWords = new Set(
  'green red blue purple orange yellow pink white gold golden black brown rainbow bright dark light coral frag piece the of and sp spp'.split(
    ' ',
  ),
);

const tellingWords = (name: string) =>
  name.split(' ').filter((word) => word !== '' && !commonWords.has(word));

/** How many letters differ between two words; two neighbours that changed places are one (optimal string alignment). */
function distance(a: string, b: string): number {
  let before: number[] = [];
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i += 1) {
    const next = [i];
    for (let j = 1; j <= b.length; j += 1) {
      const change = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      const isSwap = i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1];
      const swap = isSwap ? (before[j - 2] ?? 0) + 1 : change;
      next.push(Math.min(change, swap, (row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1));
    }
    [before, row] = [row, next];
  }
  return row[b.length] ?? 0;
}

/** Letters that may differ within a word: none in a short one, so that two short names are never mixed up (own choice). */
const slipsIn = (word: string) => (word.length >= 8 ? 2 : word.length >= 5 ? 1 : 0);

/** The same word, small slips allowed. */
export const isLike = (a: string, b: string): boolean =>
  a === b || (Math.abs(a.length - b.length) <= 2 && distance(a, b) <= Math.min(slipsIn(a), slipsIn(b)));

/**
 * From these shares of a name's letters on it is named as like, and filled in as the likely answer; own choices: the
 * genus of a two-part name is like it, and only all of the name is likely it.
 */
const enough = 0.4;
const likely = 0.9;

/** A word cut short by habit: its first letters ("acro"), at least four of them (own choice). */
const isShortFor = (typed: string, word: string) => typed.length >= 4 && word.startsWith(typed);

/** The share of `name`'s letters whose words come up in `typed`, cut short or with small slips; all, however it is spaced. */
function likeness(typed: readonly string[], name: readonly string[], isSame: SameWord = isLike): number {
  if (typed.join('') === name.join('')) return 1;
  const letters = (words: readonly string[]) => words.reduce((sum, word) => sum + word.length, 0);
  return (
    letters(name.filter((word) => typed.some((other) => isSame(other, word) || isShortFor(other, word)))) /
    letters(name)
  );
}

type SameWord = (a: string, b: string) => boolean;

/**
 * Whether a name is likely meant: all of it comes up as it is written, or what was typed is nothing but it with small slips.
 * A word of a longer name that is a slip away from one ("Wet slate", plate) says nothing.
 */
const isLikely = (typed: readonly string[], name: readonly string[]): boolean =>
  likeness(typed, name, (a, b) => a === b) >= likely ||
  (likeness(typed, name) >= likely && likeness(name, typed) >= likely);

/**
 * Finds kinds by the names that people write.
 * `exactly`: the one kind that is called so, by its name or a synonym; null where none or several are.
 * `suggest`: the kind whose name is most like it, and whether it is likely meant; null where none is like it enough.
 */
export function kindFinder(kinds: readonly NamedKind[]) {
  const byName = Map.groupBy(
    kinds.flatMap((kind) => [...new Set(kind.names.map(plainName))].map((name) => ({ name, kind }))),
    ({ name }) => name,
  );
  const labels = [...byName].map(([name, of]) => {
    const own = of.find(({ kind }) => plainName(kind.name) === name);
    return { words: tellingWords(name), kind: (own ?? of[0])?.kind as NamedKind, isOwn: own !== undefined };
  });
  const own = new Map(kinds.map((kind) => [plainName(kind.name), kind]));
  return {
    exactly(text: string): NamedKind | null {
      const name = plainName(text);
      const called = byName.get(name) ?? [];
      return own.get(name) ?? (called.length === 1 ? (called[0]?.kind ?? null) : null);
    },
    suggest(text: string): { name: string; isLikely: boolean } | null {
      const typed = tellingWords(plainName(text));
      let best: { kind: NamedKind; words: string[]; score: number; length: number; isOwn: boolean } | null =
        null;
      for (const { words, kind, isOwn } of labels) {
        if (words.length === 0) continue;
        const score = likeness(typed, words);
        const length = words.join('').length;
        if (score < enough) continue;
        const isBetter =
          best === null ||
          score > best.score ||
          (score === best.score &&
            (length > best.length || (length === best.length && isOwn && !best.isOwn)));
        if (isBetter) best = { kind, words, score, length, isOwn };
      }
      return best === null ? null : { name: best.kind.name, isLikely: isLikely(typed, best.words) };
    },
  };
}
export type KindFinder = ReturnType<typeof kindFinder>;
