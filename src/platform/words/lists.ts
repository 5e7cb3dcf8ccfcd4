/** "a", "a and b", "a, b and c"; nothing for no name. */
export const andWords = (names: readonly string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;

/** One of several, as a sentence says it: "a, b or c". */
export const orWords = (names: readonly string[]): string =>
  new Intl.ListFormat('en-GB', { type: 'disjunction' }).format(names);
