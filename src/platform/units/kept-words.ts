import { areKept, canonicalUnits, inKeptWords } from './units.ts';

// Alerts and digests are kept as text and read by people with units of their own. A figure in such a text stands between
// marks, with what it was made from before it, and is said anew for each reader (`reader-words.ts`).

/** Before a figure, between what it was made from and its words, after it: characters that no text of people has. */
const marks = { before: '\uE000', between: '\uE001', after: '\uE002' } as const;

export const marked = new RegExp(
  `${marks.before}([^${marks.between}]*)${marks.between}([^${marks.after}]*)${marks.after}`,
  'g',
);

/** What is left of a figure that was cut. */
export const strayMarks = new RegExp(
  `${marks.before}[^${marks.between}]*${marks.between}?|${marks.after}`,
  'g',
);

/** Whether a text has figures to be said anew. */
export const hasMarks = (text: string): boolean => text.includes(marks.before) || text.includes(marks.after);

/** The words of a figure; where they are kept, with what they were made from (a kind and its parts, without "|"). */
export const figureKept = (words: string, kind: string, ...made: readonly (string | number)[]): string =>
  areKept() ? `${marks.before}${[kind, ...made].join('|')}${marks.between}${words}${marks.after}` : words;

/** Words of the program itself, made once and read by everybody. */
export const keptAlways = (words: () => string): string => inKeptWords(canonicalUnits, words);
